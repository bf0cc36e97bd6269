"""Traces taken with the antenna lifted: how high it was, and what they would be from its usual height.

The ground takes away part of the direct wave, less of it from higher up (`nearfield`). So the direct wave of a trace
tells the antenna's height, and with it how much later its echoes came: 2 dh / c, 0.067 ns a centimetre.

Known limit: on simulated surveys heights come out within 4 cm of the truth, but what follows the direct wave of a
lifted antenna is four to ten times as strong as the echoes, and after it is taken out the traces are like their
neighbours on other lines by a correlation of 0.1 to 0.5 only, where good traces have 0.7 to 0.9. So the usual recipe
leaves lifted traces out; lowering them is for surveys in which nothing else covers the place.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy import fft

from gridmap.condition.nearfield import Complex128, direct_waves
from gridmap.model import LIGHT_M_PER_NS, Float32, Float64

PERMITTIVITIES = (4.0, 7.0, 12.0, 20.0)
"""Grounds that are tried; the one that explains all lifted traces of a line best is taken."""
HIGHEST_M = 0.2
"""Greatest height over the usual one that is looked for."""
_STEP_M = 0.01


@dataclass(frozen=True, slots=True)
class Lift:
    """What the direct wave says of some traces.

    Attributes
    ----------
    rise_m : (trace,) float64
        Height over the usual one, metres.
    direct : (trace, sample) float32
        The direct wave as it must be at that height.
    misfit : (trace,) float64
        RMS of what is left of the early part without it, over RMS of the line's usual direct wave.
    permittivity : float
        Of the ground, as it explains them best.
    """

    rise_m: Float64
    direct: Float32
    misfit: Float64
    permittivity: float


@cache
def _height_filters(
    frequency_mhz: float, separation_m: float, height_m: float, permittivity: float, ghz: tuple[float, ...]
) -> Complex128:
    """Spectrum of the direct wave at each height over that at the usual one, (height, frequency) complex."""
    rise = np.arange(0.0, HIGHEST_M + 1e-9, _STEP_M)
    base = max(height_m, 0.1 * separation_m)
    time, field = direct_waves(frequency_mhz, separation_m, tuple(base + rise), permittivity)
    window = (np.abs(time) < 4e3 / frequency_mhz) / (1 + np.exp((np.abs(time) * frequency_mhz - 3e3) / 200))
    phase = np.exp(-2j * np.pi * np.outer(time[::4], ghz))
    spectra = (field * window)[:, ::4] @ phase
    usual = spectra[0]
    floor = 0.03 * np.abs(usual).max()
    return np.asarray(1 + (spectra - usual) * usual.conj() / (np.abs(usual) ** 2 + floor**2))


def measure_lift(
    traces: Float32,
    usual: Float32,
    early_samples: int,
    sample_interval_ns: float,
    frequency_mhz: float,
    separation_m: float,
    height_m: float = 0.0,
) -> Lift:
    """Find the height at which some traces of a line were taken, from their direct wave.

    Parameters
    ----------
    traces : (trace, sample) float32
        The traces in question, dewowed.
    usual : (sample,) float32
        Median of the line's good traces, same unit.
    early_samples : int
        How many samples hold the direct wave.
    sample_interval_ns : float
        Nanoseconds.
    frequency_mhz, separation_m, height_m : float
        The antenna; separation above 0.

    Returns
    -------
    Lift
        The line's own direct wave, carried from the usual height to each in steps of 1 cm by the ratio of the
        modelled spectra, against each trace; least squares over heights, and over grounds for all traces.
    """
    n = traces.shape[1]
    length = int(fft.next_fast_len(2 * n, real=True))
    wave = np.zeros(length)
    fade = np.ones(n)
    tail = np.arange(n - early_samples)
    fade[early_samples:] = np.exp(-((tail * sample_interval_ns * frequency_mhz * 1e-3) ** 2))
    wave[:n] = usual * fade
    spectrum = np.fft.rfft(wave)
    ghz = tuple(np.fft.rfftfreq(length, sample_interval_ns)[: len(spectrum)])
    early = traces[:, :early_samples].astype(float)
    best: tuple[float, Float64, Float64, float] | None = None
    for permittivity in PERMITTIVITIES:
        filters = _height_filters(frequency_mhz, separation_m, height_m, permittivity, ghz)
        bank = np.fft.irfft(filters * spectrum, length)[:, :n]
        apart = ((early[:, None, :] - bank[None, :, :early_samples]) ** 2).mean(axis=2)
        total = float(np.sqrt(apart.min(axis=1)).sum())
        if best is None or total < best[0]:
            best = total, bank, apart, permittivity
    assert best is not None
    _, bank, apart, permittivity = best
    at = apart.argmin(axis=1)
    size = max(float(np.sqrt(np.mean(np.square(usual[:early_samples], dtype=float)))), 1e-30)
    misfit = np.sqrt(apart[np.arange(len(at)), at]) / size
    return Lift(_STEP_M * at, bank[at].astype(np.float32), misfit, permittivity)


def lower_traces(
    traces: Float32, lift: Lift, usual: Float32, early_samples: int, sample_interval_ns: float
) -> Float32:
    """Bring lifted traces down: their echoes earlier by 2 dh / c, the usual direct wave in place of theirs.

    Parameters
    ----------
    traces : (trace, sample) float32
        As for `measure_lift`.
    lift : Lift
        From `measure_lift`, one entry a trace.
    usual : (sample,) float32
        As for `measure_lift`.
    early_samples : int
        How many samples hold the direct wave.
    sample_interval_ns : float
        Nanoseconds.

    Returns
    -------
    (trace, sample) float32
        New array. What rises and falls along the stretch as the excess of the direct wave does is taken out at
        every time, by least squares, since it is the antenna's own tail. The weaker coupling of a lifted antenna to the
        ground is not made up for.
    """
    n = traces.shape[1]
    length = int(fft.next_fast_len(n + 64, real=True))
    ghz = np.fft.rfftfreq(length, sample_interval_ns)
    early = 2 * lift.rise_m[:, None] / LIGHT_M_PER_NS
    spectrum = np.fft.rfft(traces - lift.direct, length, axis=1) * np.exp(2j * np.pi * ghz * early)
    left = np.fft.irfft(spectrum, length, axis=1)[:, :n]
    excess = (traces - usual)[:, :early_samples].astype(float)
    course = excess @ excess.mean(axis=0)
    left -= np.outer(course, course @ left) / max(float(course @ course), 1e-30)
    return np.asarray(left + usual, dtype=np.float32)
