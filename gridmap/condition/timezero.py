"""Time zero of a line: where its direct wave stands, less the time that wave needs."""

from __future__ import annotations

import numpy as np

from gridmap.model import LIGHT_M_PER_NS, Float32


def direct_wave_lag_ns(frequency_mhz: float, separation_m: float) -> float:
    """Return when the direct wave's strongest peak comes, counted from the pulse's centre at the transmitter.

    Close to an antenna the field is not yet a wave: a short dipole's broadside field is

        E(t) ~ p''(t-r/c)/(c^2 r) + p'(t-r/c)/(c r^2) + p(t-r/c)/r^3

    (Hertzian dipole, Jackson, Classical Electrodynamics, 3rd ed., section 9.2 [memory]). The near terms are
    integrals of the pulse and come before its centre, so the peak can be earlier than r/c and even negative.
    Here p'' is a Ricker pulse, what a receiver far away would record.

    Parameters
    ----------
    frequency_mhz : float
        Centre frequency of the pulse, megahertz.
    separation_m : float
        Distance r from transmitter to receiver through air, metres. Zero: both antennas are one, lag 0.

    Returns
    -------
    float
        Nanoseconds, to add to time zero to get the peak.
    """
    if separation_m <= 0:
        return 0.0
    period = 1e3 / frequency_mhz
    step = period / 400
    time = np.arange(-3 * period, 3 * period, step)
    a = (np.pi * time / period) ** 2
    far = (1 - 2 * a) * np.exp(-a)
    middle = np.cumsum(far) * step
    near = np.cumsum(middle) * step
    c, r = LIGHT_M_PER_NS, separation_m
    field = far / (c**2 * r) + middle / (c * r**2) + near / r**3
    return float(time[np.argmax(np.abs(field))] + r / c)


def pick_direct_wave_ns(traces: Float32, sample_interval_ns: float) -> float:
    """Time of the strongest peak of the line's median trace, to a fraction of a sample.

    The median over traces keeps what is the same all along the line, the direct wave, and drops what is not.

    Parameters
    ----------
    traces : (trace, sample) float32
        Raw amplitude.
    sample_interval_ns : float
        Nanoseconds.

    Returns
    -------
    float
        Nanoseconds after the first sample; the parabola through the three highest samples gives the fraction.
    """
    wave = np.median(traces[:: max(1, len(traces) // 200)], axis=0).astype(float)
    size = np.abs(wave - np.median(wave))
    peak = int(np.argmax(size))
    if not 0 < peak < len(size) - 1:
        return peak * sample_interval_ns
    left, top, right = size[peak - 1 : peak + 2]
    bend = left - 2 * top + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return float((peak + shift) * sample_interval_ns)
