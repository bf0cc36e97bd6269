"""The recipe: which conditioning steps, in which order, with which settings.

First every line by itself (`prepare_line`), then all together (`finish_lines`), since what is background and how
echoes decay can only be told from many lines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.condition.background import common_background, flat_part, remove_background
from gridmap.condition.dewow import dewow
from gridmap.condition.faulty import faulty_traces
from gridmap.condition.gain import Decay, decay_gain, fit_decay, mean_square
from gridmap.condition.noise import NoiseFloor, noise_floor
from gridmap.condition.spectrum import to_time_zero
from gridmap.condition.timezero import direct_wave_lag_ns, pick_direct_wave_ns
from gridmap.model import CleanLine, Float32, Float64, PlacedLine


@dataclass(frozen=True, slots=True)
class Recipe:
    """Settings of every step, all as used.

    Attributes
    ----------
    direct_wave_lag_ns : float
        Peak of the direct wave after time zero.
    dewow_ns : float
        Window of the running mean along time.
    band_mhz : (float, float)
        Corners of the band-pass.
    background_m : float
        Window of the moving background along the line; 0: not removed.
    interval_ns : float
        Sample interval after conditioning.
    decay_from_ns : float
        Earlier samples hold the direct wave and do not count for the decay: one and a half periods.
    """

    direct_wave_lag_ns: float
    dewow_ns: float
    band_mhz: tuple[float, float]
    background_m: float
    interval_ns: float
    decay_from_ns: float

    @property
    def period_ns(self) -> float:
        """One period of the nominal frequency, nanoseconds."""
        return self.decay_from_ns / 1.5


@dataclass(frozen=True, slots=True)
class Conditioned:
    """The survey after conditioning, and what was measured on the way.

    Attributes
    ----------
    lines : tuple of CleanLine
        On one common time axis, as long as the shortest record, with gain.
    decay : Decay
        How echoes weaken with time, as fitted before gain.
    rms : (sample,) float64
        RMS amplitude of the survey against time before gain.
    noise : tuple of NoiseFloor
        One a line, in the order of `lines`, before gain and in the same unit as `decay` and `rms`: the usual
        peak of the direct wave is 1.
    gain : (sample,) float32
        The factor that each sample was multiplied with.
    """

    lines: tuple[CleanLine, ...]
    decay: Decay
    rms: Float64
    noise: tuple[NoiseFloor, ...]
    gain: Float32


def choose_recipe(
    frequency_mhz: float,
    separation_m: float,
    sample_interval_ns: float,
    *,
    band_mhz: tuple[float, float] | None = None,
    dewow_ns: float | None = None,
    background_m: float | None = None,
) -> Recipe:
    """Fill in what the user left open, from the antenna's frequency.

    Parameters
    ----------
    frequency_mhz, separation_m : float
        The antenna.
    sample_interval_ns : float
        As recorded, nanoseconds.
    band_mhz, dewow_ns, background_m
        As in `gridmap.site.records.Processing`; None is filled in: 0.35 to 2 times the frequency (the -10 dB
        width of a Ricker pulse and some more), four periods, 5 m.

    Returns
    -------
    Recipe
        The sample interval is refined to at most a twelfth of a period, so that imaging may take the nearest
        sample.
    """
    period = 1e3 / frequency_mhz
    refine = max(1, math.ceil(sample_interval_ns * 12 / period - 1e-9))
    return Recipe(
        direct_wave_lag_ns(frequency_mhz, separation_m),
        4 * period if dewow_ns is None else dewow_ns,
        (0.35 * frequency_mhz, 2.0 * frequency_mhz) if band_mhz is None else band_mhz,
        5.0 if background_m is None else background_m,
        sample_interval_ns / refine,
        1.5 * period,
    )


def prepare_line(placed: PlacedLine, recipe: Recipe) -> CleanLine:
    """Condition one line by itself: dewow, faulty traces, time zero, band-pass, level.

    Parameters
    ----------
    placed : PlacedLine
        As read and placed.
    recipe : Recipe
        Settings.

    Returns
    -------
    CleanLine
        From time zero to the end of the record; scaled so that the direct wave's usual peak is 1, which takes
        out differences of gain from line to line.
    """
    line = placed.line
    peak_ns = pick_direct_wave_ns(line.traces, line.sample_interval_ns)
    zero_ns = peak_ns - recipe.direct_wave_lag_ns
    swept = dewow(line.traces, line.sample_interval_ns, recipe.dewow_ns)
    early = max(2, math.ceil((peak_ns + recipe.period_ns) / line.sample_interval_ns))
    usable = ~faulty_traces(swept, early)
    if placed.usable is not None:
        usable &= placed.usable
    record_ns = (line.traces.shape[1] - 1) * line.sample_interval_ns - zero_ns
    samples = max(1, int(record_ns / recipe.interval_ns))
    clean = to_time_zero(
        swept, line.sample_interval_ns, zero_ns, samples, recipe.band_mhz, recipe.interval_ns
    )
    first = max(2, math.ceil(recipe.period_ns / recipe.interval_ns))
    level = float(np.median(np.abs(clean[usable, :first]).max(axis=1))) if usable.any() else 1.0
    clean *= np.float32(1.0 / max(level, 1e-30))
    clean[~usable] = 0.0
    return CleanLine(line.name, placed.xy_m, placed.along_m, clean, usable, zero_ns)


def finish_lines(lines: Sequence[CleanLine], recipe: Recipe) -> Conditioned:
    """Condition all lines together: background, noise floor, then the gain that undoes the decay.

    Parameters
    ----------
    lines : sequence of CleanLine
        From `prepare_line`. Their arrays are worked on in place, to hold the survey in memory once.
    recipe : Recipe
        Settings.

    Returns
    -------
    Conditioned
        The lines and what was measured on them before gain.
    """
    samples = min(line.traces.shape[1] for line in lines)
    lines = [replace(line, traces=line.traces[:, :samples]) for line in lines]
    if recipe.background_m > 0:
        smooth = max(3, round(recipe.period_ns / recipe.interval_ns) | 1)
        background = common_background(np.array([flat_part(ln.traces[ln.usable]) for ln in lines]), smooth)
        for line in lines:
            removed = remove_background(line.traces, line.along_m, recipe.background_m, background)
            line.traces[:] = removed
            line.traces[~line.usable] = 0.0
    noise = tuple(noise_floor(ln.traces[ln.usable], recipe.interval_ns) for ln in lines)
    rms = np.sqrt(np.mean([mean_square(ln.traces[ln.usable]) for ln in lines], axis=0))
    time_ns = recipe.interval_ns * np.arange(samples)
    decay = fit_decay(rms, time_ns, recipe.decay_from_ns)
    gain = decay_gain(decay, time_ns)
    for line in lines:
        line.traces[:] *= gain
    return Conditioned(tuple(lines), decay, rms, noise, gain)
