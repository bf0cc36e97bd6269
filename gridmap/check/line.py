"""One line judged by itself: what `gridmap check` asks of every line, and `gridmap watch` of each that arrives."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

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
from gridmap.model import Bool, Float32, Float64, PlacedLine

_DEWOW_PERIODS = 2.0
_APART_WAVELENGTHS = 0.15
"""Traces about this far apart are compared when looking for places walked twice: nearer ones tell nothing new."""
_MOST_LAGS = 32
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
    digest : str
        Of the samples: copies have the same.
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
    digest: str


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
        jumps = find_zero_faults(name, wave, _widened(dead | raised, 1), along_m, setup)
        at_jump = np.zeros(count, bool)
        at_jump[[f.last_trace - 1 for f in jumps if f.last_trace is not None]] = True
        bursts = find_bursts(
            name, rough, wave, along_m, dead | _widened(raised, 2) | _widened(at_jump, 2), setup
        )
        found += jumps
        found += bursts
        for f in bursts:
            assert f.first_trace is not None and f.last_trace is not None
            bad[f.first_trace - 1 : f.last_trace] = True
        raised &= ~_widened(bad & ~dead, 1)
        found += find_raised(name, swept, wave, raised, along_m, dt, setup)
        bad |= raised
        found += find_clipping(name, line.traces, wave, dead)
        found += find_tones(name, swept, wave.early, dt, bad)
        found += _repeats(name, swept, wave.early, period / dt, bad, along_m, setup)
        if tracked:
            known = np.ones(count, bool) if placed.usable is None else placed.usable
            found += find_turns(name, placed.xy_m, along_m, known, setup)
        good = swept[~bad]
        noise = noise_floor(good[:, wave.early :], dt).level / max(wave.size, 1e-30)
        found += find_window(name, samples, dt, zero_ns, setup)
    found += find_interval(name, along_m, setup)
    return LineCheck(
        name,
        line.source,
        placed.xy_m,
        along_m,
        tuple(found),
        bad,
        wave.size,
        zero_ns,
        noise,
        dt,
        samples,
        hashlib.blake2b(np.ascontiguousarray(line.traces).data, digest_size=16).hexdigest(),
    )


def _repeats(
    name: str, swept: Float32, first: int, period: float, bad: Bool, along_m: Float64, setup: Setup
) -> list[Finding]:
    """Look for stops and backing up on every n-th trace."""
    step = max(float(np.median(np.diff(along_m))), 1e-3)
    every = max(1, round(_APART_WAVELENGTHS * setup.wavelength_m / step))
    some, out, where = swept[::every], bad[::every], along_m[::every]
    unlike = measure_unlike(some, first, period, out, min(_MOST_LAGS, len(some) // 3))
    if unlike is None:
        return []
    found = find_stops(name, unlike, out, where) + find_backing(name, unlike, out, where)
    return [
        replace(
            f,
            first_trace=every * (f.first_trace - 1) + 1,
            last_trace=min(every * f.last_trace, len(swept)),
        )
        for f in found
        if f.first_trace is not None and f.last_trace is not None
    ]


def _widened(marked: Bool, by: int) -> Bool:
    """Mark neighbours too, (trace,) bool."""
    out = marked.copy()
    for k in range(1, by + 1):
        out[k:] |= marked[:-k]
        out[:-k] |= marked[k:]
    return out
