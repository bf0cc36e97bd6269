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
from gridmap.condition.band import suggest_band
from gridmap.condition.deconvolution import prediction_filter, take_off_predicted
from gridmap.condition.dewow import dewow
from gridmap.condition.faulty import faulty_traces
from gridmap.condition.gain import Decay, decay_gain, fit_decay, mean_square
from gridmap.condition.lifted import lower_traces, measure_lift
from gridmap.condition.median import median_trace
from gridmap.condition.noise import NoiseFloor, noise_floor
from gridmap.condition.repair import fill_dead, repair_spikes
from gridmap.condition.ringing import line_tones
from gridmap.condition.spectrum import to_time_zero
from gridmap.condition.timezero import POINTS, direct_wave_lag_ns, pick_direct_wave_ns, pulse_sign
from gridmap.model import Bool, CleanLine, Float32, Float64, PlacedLine
from gridmap.site.recipes import GENERAL, Steps
from gridmap.threads import each

_USUAL_VELOCITY = 0.1
"""Metres per nanosecond: what wavelengths in a recipe are reckoned with before the velocity is known."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """Settings of every step, all as used.

    Attributes
    ----------
    steps : Steps
        The recipe that was chosen.
    frequency_mhz, separation_m, height_m : float
        The antenna.
    direct_wave_lag_ns : float
        The picked point of the direct wave after time zero.
    dewow_ns : float
        Window of the running mean along time; 0: left out.
    band_mhz : (float, float)
        Corners of the band-pass.
    background_m : float
        Window of the moving background along the line; 0: not removed.
    interval_ns : float
        Sample interval after conditioning.
    decay_from_ns : float
        Earlier samples hold the direct wave and do not count for the decay: one and a half periods.
    """

    steps: Steps
    frequency_mhz: float
    separation_m: float
    height_m: float
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
    height_m: float = 0.0,
    steps: Steps = GENERAL,
    band_mhz: tuple[float, float] | None = None,
    dewow_ns: float | None = None,
    background_m: float | None = None,
    example: Float32 | None = None,
) -> Recipe:
    """Turn the steps of a recipe into settings for this antenna.

    Parameters
    ----------
    frequency_mhz, separation_m, height_m : float
        The antenna.
    sample_interval_ns : float
        As recorded, nanoseconds.
    steps : Steps
        The recipe.
    band_mhz, dewow_ns, background_m
        As in `gridmap.site.records.Processing`: what is not None overrules the recipe.
    example : (trace, sample) float32 or None
        Raw traces of one line, from whose spectrum the corners are suggested where the recipe wants that; None: the
        antenna's are taken.

    Returns
    -------
    Recipe
        The sample interval is brought near a twelfth of a period, never above: so fine that imaging may take
        the nearest sample, and no finer, which would only cost time.
    """
    period = 1e3 / frequency_mhz
    finest = sample_interval_ns * 12 / period
    refine, thin = max(1, math.ceil(finest - 1e-9)), max(1, math.floor(1 / finest + 1e-9))
    window_ns = steps.dewow_periods * period if dewow_ns is None else dewow_ns
    if band_mhz is None and steps.band_from == "data" and example is not None and len(example) >= 5:
        band_mhz = _band_of(example, sample_interval_ns, frequency_mhz, window_ns or 4 * period)
    if band_mhz is None:
        band_mhz = steps.band[0] * frequency_mhz, steps.band[1] * frequency_mhz
    return Recipe(
        steps,
        frequency_mhz,
        separation_m,
        height_m,
        direct_wave_lag_ns(frequency_mhz, separation_m, height_m, share=POINTS[steps.time_zero_by]),
        window_ns,
        band_mhz,
        steps.background_m if background_m is None else background_m,
        sample_interval_ns * thin / refine,
        1.5 * period,
    )


def _band_of(traces: Float32, dt: float, frequency_mhz: float, dewow_ns: float) -> tuple[float, float] | None:
    """Corners suggested from the good traces of one line after its direct wave; None: too few."""
    swept = dewow(traces, dt, dewow_ns)
    early = max(2, math.ceil((pick_direct_wave_ns(traces, dt) + 1e3 / frequency_mhz) / dt))
    good = swept[~faulty_traces(swept, early), early:]
    if len(good) < 5 or good.shape[1] < 16:
        return None
    return suggest_band(good, dt, frequency_mhz).corners_mhz


def prepare_line(placed: PlacedLine, recipe: Recipe) -> CleanLine:
    """Condition one line by itself: spikes, time zero, dewow, faulty traces, band-pass, level.

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
    line, steps, dt = placed.line, recipe.steps, placed.line.sample_interval_ns
    traces, spikes = repair_spikes(line.traces, dt, steps.spike_periods * recipe.period_ns)
    wave = median_trace(traces, 100)[None]
    zero_ns = pick_direct_wave_ns(wave, dt, POINTS[steps.time_zero_by]) - recipe.direct_wave_lag_ns
    swept = dewow(traces, dt, recipe.dewow_ns) if recipe.dewow_ns > 0 else traces
    early = max(2, math.ceil((pick_direct_wave_ns(wave, dt) + recipe.period_ns) / dt))
    swept, usable, repaired, mended = _mend_traces(swept, placed.along_m, early, dt, recipe)
    if placed.usable is not None:
        usable &= placed.usable
    if spikes.any():
        repaired |= spikes.any(axis=1)
        mended = (f"{int(spikes.sum())} samples of spikes", *mended)
    record_ns = (line.traces.shape[1] - 1) * dt - zero_ns
    samples = max(1, int(record_ns / recipe.interval_ns))
    clean = to_time_zero(swept, dt, zero_ns, samples, recipe.band_mhz, recipe.interval_ns)
    first = max(2, math.ceil(recipe.period_ns / recipe.interval_ns))
    level = float(np.median(np.abs(clean[usable, :first]).max(axis=1))) if usable.any() else 1.0
    clean *= np.float32(1.0 / max(level, 1e-30))
    clean[~usable] = 0.0
    return CleanLine(
        line.name, placed.xy_m, placed.along_m, clean, usable, zero_ns,
        repaired if repaired.any() else None, mended,
        pulse_sign(wave, dt, recipe.frequency_mhz, recipe.separation_m, recipe.height_m),
    )  # fmt: skip


def _mend_traces(
    swept: Float32, along_m: Float64, early: int, dt: float, recipe: Recipe
) -> tuple[Float32, Bool, Bool, tuple[str, ...]]:
    """Lower lifted traces where asked, bridge dead ones; returns traces, usable, repaired and words."""
    steps = recipe.steps
    bad = faulty_traces(swept, early)
    repaired = np.zeros(len(bad), bool)
    mended: tuple[str, ...] = ()
    if steps.lifted == "lower" and recipe.separation_m > 0 and bad.any() and not bad.all():
        usual = np.median(swept[~bad], axis=0).astype(np.float32)
        at = np.flatnonzero(bad & (np.abs(swept[:, :early]).max(axis=1) > 0.5 * np.abs(usual[:early]).max()))
        if at.size:
            lift = measure_lift(
                swept[at], usual, early, dt, recipe.frequency_mhz, recipe.separation_m, recipe.height_m
            )
            low = lift.misfit < 0.3
            lowered = lower_traces(swept[at], lift, usual, early, dt)
            swept = swept.copy()
            swept[at[low]] = lowered[low]
            repaired[at[low]], bad[at[low]] = True, False
            if low.any():
                mended += (f"{int(low.sum())} lifted traces lowered by up to {lift.rise_m[low].max():.2f} m",)
    if steps.dead_gap_wavelengths > 0 and bad.any():
        longest_m = steps.dead_gap_wavelengths * _USUAL_VELOCITY * recipe.period_ns
        swept, filled = fill_dead(swept, bad, along_m, longest_m, early)
        repaired |= filled
        bad &= ~filled
        if filled.any():
            mended += (f"{int(filled.sum())} dead traces bridged",)
    return swept, ~bad, repaired, mended


def finish_lines(lines: Sequence[CleanLine], recipe: Recipe) -> Conditioned:
    """Condition all lines together: tones, background, noise floor, gain that undoes the decay, deconvolution.

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
    steps, dt = recipe.steps, recipe.interval_ns
    samples = min(line.traces.shape[1] for line in lines)
    lines = [replace(line, traces=_shortened(line.traces, samples)) for line in lines]
    if steps.tones or recipe.background_m > 0:
        _remove_flat(lines, recipe)
    noise = tuple(each(lambda ln: noise_floor(_good(ln), dt), lines))
    rms = np.sqrt(np.mean(each(lambda ln: mean_square(_good(ln)), lines), axis=0))
    time_ns = dt * np.arange(samples)
    decay = fit_decay(rms, time_ns, recipe.decay_from_ns)
    gain = np.ones(samples, np.float32)
    if steps.gain:
        gain = decay_gain(decay, time_ns, steps.gain_limit_db)
        each(lambda ln: np.multiply(ln.traces, gain, out=ln.traces), lines)
    if steps.deconvolution:
        gap_ns = steps.deconvolution_gap_periods * recipe.period_ns
        length_ns = steps.deconvolution_length_periods * recipe.period_ns
        late = round(recipe.decay_from_ns / dt)
        part = np.concatenate([ln.traces[ln.usable][::8, late:] for ln in lines])
        taps = prediction_filter(part, dt, gap_ns, length_ns, steps.deconvolution_white)
        for line in lines:
            line.traces[:] = take_off_predicted(line.traces, taps, dt, gap_ns)
    return Conditioned(tuple(lines), decay, rms, noise, gain)


def _shortened(traces: Float32, samples: int) -> Float32:
    """First samples of each trace, moved together in the memory that the traces have already."""
    if samples == traces.shape[1] and traces.flags.c_contiguous:
        return traces
    if not traces.flags.c_contiguous:
        return np.ascontiguousarray(traces[:, :samples])
    short = traces.reshape(-1)[: len(traces) * samples].reshape(len(traces), samples)
    short[:] = traces[:, :samples]
    return short


def _good(line: CleanLine) -> Float32:
    """Usable traces of a line; no copy where all are."""
    return line.traces if line.usable.all() else line.traces[line.usable]


def _remove_flat(lines: Sequence[CleanLine], recipe: Recipe) -> None:
    """Take tones and background off, in place."""
    steps, dt = recipe.steps, recipe.interval_ns
    flat = np.array(each(lambda ln: flat_part(_good(ln)), lines))
    if steps.tones:
        common = np.median(flat, axis=0).astype(np.float32)
        _, tones = line_tones(flat, common, dt, recipe.decay_from_ns, recipe.band_mhz)
        for line, tone in zip(lines, tones, strict=True):
            line.traces[line.usable] -= tone
        flat = flat - tones
    if recipe.background_m > 0:
        smooth = max(3, round(recipe.period_ns / dt) | 1)
        background = common_background(flat, smooth)

        def remove(line: CleanLine) -> None:
            remove_background(
                line.traces, line.along_m, recipe.background_m, background,
                steps.background_limit, steps.background_by, line.traces,
            )  # fmt: skip
            line.traces[~line.usable] = 0.0

        each(remove, lines)
