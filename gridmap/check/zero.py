"""Time zero: jumps and drift within a line, and where in the record it lies."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.setup import Setup
from gridmap.check.stretch import stretch, whole_line
from gridmap.check.wave import Wave
from gridmap.model import Bool, Float64

_JUMP_PERIODS, _BAD_PERIODS = 1 / 16, 1 / 4
"""A step in time moves echoes: past a sixteenth of a period it is told, past a quarter neighbours no longer add up."""
_BESIDE = 10
"""Traces to each side that a jump is judged by."""
_CLEAR = 6.0
"""Deviations by which both sides must differ."""


def find_zero_faults(line: str, wave: Wave, out: Bool, along_m: Float64, setup: Setup) -> list[Finding]:
    """Find jumps of time zero along a line, and a slow drift.

    Parameters
    ----------
    line : str
        Name of the line.
    wave : Wave
        From `gridmap.check.wave.measure_wave`; the lags are looked at.
    out : (trace,) bool
        Traces whose lag means nothing: dead, lifted, bumped.
    along_m : (trace,) float64
        Distance along the line, metres.
    setup : Setup
        The period.

    Returns
    -------
    list of Finding
        A jump is a step of medians of ten good traces to each side; drift is the difference of the first and last
        fifth of a line without jumps.
    """
    good = np.flatnonzero(~out)
    if len(good) < 4 * _BESIDE:
        return []
    lag = wave.lag_ns[good]
    windows = np.lib.stride_tricks.sliding_window_view(lag, _BESIDE)
    middle = np.median(windows, axis=1)
    spread = 1.4826 * np.median(np.abs(windows - middle[:, None]), axis=1)
    step = middle[_BESIDE:] - middle[:-_BESIDE]
    noise = np.maximum(np.maximum(spread[_BESIDE:], spread[:-_BESIDE]), 0.005 * setup.period_ns)
    clear = (np.abs(step) > _JUMP_PERIODS * setup.period_ns) & (np.abs(step) > _CLEAR * noise)
    found = []
    at = np.flatnonzero(clear)
    while at.size:
        k = int(at[np.argmax(np.abs(step[at]))])
        near = np.abs(np.diff(lag[k : k + 2 * _BESIDE]))
        here = k + 1 + int(near.argmax())
        before, after = lag[max(here - 2 * _BESIDE, 0) : here - 3], lag[here + 3 : here + 2 * _BESIDE]
        stays = float(np.median(after) - np.median(before)) / step[k]
        if near.max() > 0.5 * abs(step[k]) and stays > 0.6:  # a step, no ramp and no bump
            severity: Severity = "attention" if abs(step[k]) > _BAD_PERIODS * setup.period_ns else "note"
            found.append(
                stretch(
                    line,
                    "time zero",
                    severity,
                    (int(good[here - 1]), int(good[here])),
                    along_m,
                    (Figure("step", float(step[k]), "ns"),),
                    f"time zero jumps by {step[k]:+.2f} ns",
                    "Let the radar warm up and check its cables; start a new line where it jumps."
                    if severity != "note"
                    else "",
                )
            )
        at = at[np.abs(at - k) > 2 * _BESIDE]
    if not found:
        fifth = len(lag) // 5
        drift = float(np.median(lag[-fifth:]) - np.median(lag[:fifth]))
        if abs(drift) > _JUMP_PERIODS * setup.period_ns:
            severity = "attention" if abs(drift) > _BAD_PERIODS * setup.period_ns else "note"
            found.append(
                whole_line(
                    line,
                    "time zero",
                    severity,
                    (Figure("drift", drift, "ns"),),
                    f"time zero drifts by {drift:+.2f} ns along the line",
                    "Let the radar warm up before the next line." if severity != "note" else "",
                )
            )
    return found
