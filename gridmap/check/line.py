"""One line judged by itself: what `gridmap check` asks of every line, and `gridmap watch` of each that arrives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridmap.check.bump import find_bursts
from gridmap.check.clipped import find_clipping
from gridmap.check.dead import dead_traces, find_dead
from gridmap.check.finding import Finding
from gridmap.check.gaps import find_gaps
from gridmap.check.likeness import measure_unlike
from gridmap.check.mirror import find_backing
from gridmap.check.raised import find_raised, off_ground
from gridmap.check.rough import measure_rough
from gridmap.check.sampling import find_interval, find_window
from gridmap.check.setup import Setup
from gridmap.check.stops import find_stops
from gridmap.check.tone import find_tones
from gridmap.check.turns import find_turns
from gridmap.check.wave import measure_wave
from gridmap.check.zero import find_zero_faults
from gridmap.condition.dewow import dewow
from gridmap.condition.noise import noise_floor
from gridmap.condition.timezero import direct_wave_lag_ns
from gridmap.model import Bool, Float64, PlacedLine

_DEWOW_PERIODS = 2.0
_LAGS_M = 1.6
"""Traces are compared with those up to this far along the line."""
_MOST_LAGS = 60
_SHORTEST = 12
"""Traces below which nothing but this can be said."""


@dataclass(frozen=True, slots=True)
class LineCheck:
    """One line after its own checks, with what the survey's checks compare among lines.

    Attributes
    ----------
    name, file : str
        The line, and its file.
    xy_m : (trace, 2) float64
        As `gridmap.check.finding.CheckedLine`.
    along_m : (trace,) float64
        Distance from the first trace, metres.
    findings : tuple of Finding
        What the line says by itself.
    bad : (trace,) bool
        Traces that are dead, lifted or in a burst.
    wave_size : float
        Largest amplitude of its direct wave, unit of the file.
    zero_ns : float
        Time zero after the first sample, nanoseconds.
    noise : float
        Noise floor over `wave_size`.
    sample_interval_ns : float
        Nanoseconds.
    samples : int
        Samples a trace.
    """

    name: str
    file: str
    xy_m: Float64
    along_m: Float64
    findings: tuple[Finding, ...]
    bad: Bool
    wave_size: float
    zero_ns: float
    noise: float
    sample_interval_ns: float
    samples: int


def check_line(placed: PlacedLine, setup: Setup, *, tracked: bool = False) -> LineCheck:
    """Judge one line.

    Parameters
    ----------
    placed : PlacedLine
        As read and placed; traces in the order of the file.
    setup : Setup
        What is known of the survey.
    tracked : bool
        Whether its path was measured, by a track or by stations, rather than taken to be straight.

    Returns
    -------
    LineCheck
        Findings in no order; `gridmap.check.survey.check_survey` sorts them.
    """
    line, along_m, name = placed.line, placed.along_m, placed.line.name
    dt, period = line.sample_interval_ns, setup.period_ns
    count, samples = line.traces.shape
    swept = dewow(line.traces, dt, _DEWOW_PERIODS * period)
    wave = measure_wave(swept, dt, period)
    dead = dead_traces(wave)
    found = find_dead(name, wave, along_m, setup)
    found += find_gaps(name, line.trace_number, along_m, setup)
    bad = dead.copy()
    noise = float("nan")
    zero_ns = wave.peak_ns - direct_wave_lag_ns(setup.frequency_mhz, setup.separation_m, setup.height_m)
    if not dead.all() and count >= _SHORTEST:
        raised = off_ground(wave, dead)
        rough = measure_rough(swept, wave.early, max(4, round(period / dt)), dead)
        bursts = find_bursts(name, rough, wave, along_m, dead | _widened(raised, 2), setup)
        found += bursts
        for f in bursts:
            assert f.first_trace is not None and f.last_trace is not None
            bad[f.first_trace - 1 : f.last_trace] = True
        raised &= ~_widened(bad & ~dead, 1)
        found += find_raised(name, swept, wave, raised, along_m, dt, setup)
        bad |= raised
        found += find_zero_faults(name, wave, _widened(bad, 1), along_m, setup)
        found += find_clipping(name, line.traces, wave, dead)
        found += find_tones(name, swept, wave.early, dt, bad)
        step = float(np.median(np.diff(along_m)))
        most = min(_MOST_LAGS, max(12, round(_LAGS_M / max(step, 1e-3))), count // 3)
        unlike = measure_unlike(swept, wave.early, period / dt, bad, most)
        if unlike is not None:
            found += find_stops(name, unlike, bad, along_m)
            found += find_backing(name, unlike, bad, along_m)
        if tracked:
            known = np.ones(count, bool) if placed.usable is None else placed.usable
            found += find_turns(name, placed.xy_m, along_m, known, setup)
        good = swept[~bad]
        noise = noise_floor(good[:, wave.early :], dt).level / max(wave.size, 1e-30)
        found += find_window(name, samples, dt, zero_ns, setup)
    found += find_interval(name, along_m, setup)
    return LineCheck(
        name, line.source, placed.xy_m, along_m, tuple(found), bad, wave.size, zero_ns, noise, dt, samples
    )


def _widened(marked: Bool, by: int) -> Bool:
    """Mark neighbours too, (trace,) bool."""
    out = marked.copy()
    for k in range(1, by + 1):
        out[k:] |= marked[:-k]
        out[:-k] |= marked[k:]
    return out
