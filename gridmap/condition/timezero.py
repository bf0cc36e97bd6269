"""Time zero of a line: where its direct wave stands, less the time that wave needs.

The direct wave can be picked where it begins, on its first flank or at its peak. The same point is found on the
wave that two dipoles over ground would give (`nearfield`), so all three mean the same time zero: the moment at which
the centre of the pulse leaves the transmitter. The flank is the usual choice: the slow swing that a receiver adds
sets in with the direct wave and draws its peak early, by 0.07 ns on simulated surveys at 300 MHz, but has hardly begun
on the flank; and the flank is steeper than the first break, so noise moves it less.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

import numpy as np

from gridmap.condition.median import median_trace
from gridmap.condition.nearfield import direct_wave
from gridmap.model import Float32, Float64

POINTS: Mapping[str, float] = {"first break": 0.2, "flank": 0.5, "peak": 1.0}
"""Points of the direct wave by which time zero can be found: the share of its strongest peak reached there."""

DOUBTFUL = 0.7
"""Where the second peak of the direct wave, of the other sign, is greater than this share of the first, its sign tells
nothing: of 16 full-wave surveys two with 0.76 and 0.97 would have been read upside down."""


@cache
def direct_wave_lag_ns(
    frequency_mhz: float,
    separation_m: float,
    height_m: float = 0.0,
    permittivity: float = 9.0,
    share: float = 1.0,
) -> float:
    """Return when the direct wave first reaches a share of its peak, from the pulse's centre at the transmitter.

    Close to an antenna the field is not yet a wave: its near terms are integrals of the pulse and come before
    the pulse's centre, so even the peak can be earlier than r/c and negative. The ground below takes away most
    of the nearest term and moves the peak by another 0.05 to 0.1 ns at 300 MHz.

    Parameters
    ----------
    frequency_mhz, separation_m, height_m, permittivity : float
        As for `gridmap.condition.nearfield.direct_wave`; separation zero: both antennas are one, and the wave is
        a Ricker pulse at 0.
    share : float
        One of `POINTS`, or any above 0 and up to 1, the peak.

    Returns
    -------
    float
        Nanoseconds, to add to time zero to get that point. At the peak it changes by 0.05 ns between permittivity 4
        and 25 (300 MHz, separation 0.15 m, height 0.025 m or more).
    """
    if separation_m <= 0:
        period = 1e3 / frequency_mhz
        time = np.linspace(-2 * period, 2 * period, 4001)
        a = (np.pi * time / period) ** 2
        field = (1 - 2 * a) * np.exp(-a)
    else:
        time, field = direct_wave(frequency_mhz, separation_m, height_m, permittivity)
    return float(time[0]) + _reach_ns(field, float(time[1] - time[0]), share)


def pulse_sign(
    traces: Float32,
    sample_interval_ns: float,
    frequency_mhz: float,
    separation_m: float,
    height_m: float = 0.0,
) -> int:
    """Say whether a record keeps the sign that the pulse has far from the antennas, or turns it over.

    Cables and recorders differ in it. Near the antennas the greatest peak of the direct wave has the sign of its
    near terms, which is not that of the pulse; `gridmap.condition.nearfield` tells which it is.

    Parameters
    ----------
    traces : (trace, sample) float32
        Raw amplitude; their median is looked at.
    sample_interval_ns : float
        Nanoseconds.
    frequency_mhz, separation_m, height_m : float
        Of the antennas.

    Returns
    -------
    int
        1: an echo of reflection coefficient +1 stands upright in the record; -1: upside down; 0: no wave, or one whose
        peaks of both signs are alike, as of antennas that lie on the ground: which is the greater hangs on the soil.
    """
    wave = median_trace(traces, 200).astype(float)
    wave -= np.median(wave)
    peak = int(np.argmax(np.abs(wave)))
    period = math.ceil(1e3 / frequency_mhz / sample_interval_ns)
    near = wave[max(0, peak - period) : peak + period + 1] * np.sign(wave[peak])
    if -near.min() > DOUBTFUL * near.max():
        return 0
    return int(np.sign(wave[peak])) * _greatest_sign(frequency_mhz, separation_m, height_m)


@cache
def _greatest_sign(frequency_mhz: float, separation_m: float, height_m: float) -> int:
    """Sign of the greatest peak of the direct wave of a pulse whose far field is a Ricker pulse, peak upwards."""
    if separation_m <= 0:
        return 1
    _, field = direct_wave(frequency_mhz, separation_m, height_m)
    return int(np.sign(field[int(np.argmax(np.abs(field)))]))


def pick_direct_wave_ns(traces: Float32, sample_interval_ns: float, share: float = 1.0) -> float:
    """Time at which the line's median trace first reaches a share of its strongest peak.

    The median over traces keeps what is the same all along the line, the direct wave, and drops what is not.

    Parameters
    ----------
    traces : (trace, sample) float32
        Raw amplitude.
    sample_interval_ns : float
        Nanoseconds.
    share : float
        As for `direct_wave_lag_ns`.

    Returns
    -------
    float
        Nanoseconds after the first sample, to a fraction of a sample. The level before the wave is the median of
        what was recorded up to a third of the way to the peak. A record that begins within the wave gives 0.
    """
    wave = median_trace(traces, 200).astype(float)
    peak = int(np.argmax(np.abs(wave - np.median(wave))))
    return _reach_ns(wave - np.median(wave[: max(1, peak // 3)]), sample_interval_ns, share)


def _reach_ns(wave: Float64, step_ns: float, share: float) -> float:
    """Time of the strongest peak by a parabola through three samples, or of first reaching a share of it."""
    size = np.abs(wave)
    peak = int(np.argmax(size))
    inner = 0 < peak < len(size) - 1
    left, top, right = size[peak - 1 : peak + 2] if inner else (0.0, size[peak], 0.0)
    bend = left - 2 * top + right
    shift = 0.5 * (left - right) / bend if inner and bend < 0 else 0.0
    if share >= 1:
        return float((peak + shift) * step_ns)
    wanted = share * (top - 0.25 * (left - right) * shift)
    first = int(np.argmax(size >= wanted))
    if first == 0:
        return 0.0
    return float((first - 1 + (wanted - size[first - 1]) / (size[first] - size[first - 1])) * step_ns)
