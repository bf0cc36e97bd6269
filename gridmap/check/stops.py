"""Stops while recording: traces that repeat, with nothing but noise between them."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.likeness import Unlike, differences
from gridmap.check.stretch import runs, stretch
from gridmap.model import Bool, Float64

LAG = 6
"""Traces compared: in a stop they differ no more than neighbours do, on the move much more."""
_STILL = 0.4
"""Difference over the line's usual one at that lag, at most."""
_NO_GROWTH = 1.1
"""Difference at that lag over the difference of neighbours, at most; on the move it grows with distance."""
_SOME_GROWTH, _MORE_GROWTH = 1.25, 1.6
"""The same, down to which a stop reaches to both sides of where it is clear; the second where traces agree clearly."""
_HALVES = 1.6
"""The same of the means of both halves of a stop, which hold less noise, so that slow change shows."""
_FEWEST, _SURE = 16, 24
"""Traces of a stop, at least; fewer than the second count only where they agree within `_CLEARLY` of usual: ground
that is the same over half a metre looks like a stop of a dozen traces."""
_CLEARLY = 0.2
_MOVES = 2.0
"""The line's usual difference at that lag over that of neighbours must be this much, or stops cannot be told."""


def find_stops(line: str, unlike: Unlike, out: Bool, along_m: Float64) -> list[Finding]:
    """Find runs of repeated traces.

    Parameters
    ----------
    line : str
        Name of the line.
    unlike : Unlike
        From `gridmap.check.likeness.measure_unlike`.
    out : (trace,) bool
        Traces that mean nothing.
    along_m : (trace,) float64
        Distance along the line, metres.

    Returns
    -------
    list of Finding
        Kind "stopped". Nothing where noise hides how traces change: then stops do no harm that can be seen either.
    """
    if unlike.most < LAG or unlike.usual[LAG] < _MOVES * unlike.usual[1]:
        return []
    near, far = differences(unlike.table, 1), differences(unlike.table, LAG)
    sums = np.concatenate([[0.0], np.cumsum(near)])
    local = (sums[LAG:] - sums[:-LAG]) / LAG
    bad = np.convolve(out.astype(int), np.ones(LAG + 1, int), mode="valid") > 0
    close = (far < _STILL * unlike.usual[LAG]) & ~bad
    strict = close & (far <= _NO_GROWTH * local)
    growth = np.where(far < _CLEARLY * unlike.usual[LAG], _MORE_GROWTH, _SOME_GROWTH)
    spans = [s for s in runs(close & (far <= growth * local), join=2) if strict[s[0] : s[1] + 1].sum() > 2]
    found = []
    for first, last in _still(spans, unlike, near, far) or _still(runs(strict, join=1), unlike, near, far):
        severity: Severity = "attention"
        found.append(
            stretch(
                line,
                "stopped",
                severity,
                (first, last),
                along_m,
                (Figure("laid out as", float(along_m[last] - along_m[first]), "m"),),
                f"stood still: {along_m[last] - along_m[first]:.1f} m of the line are one place",
                "Cut the repeated traces out, or walk it again with the wheel as trigger.",
            )
        )
    return found


def _still(
    spans: list[tuple[int, int]], unlike: Unlike, near: Float64, far: Float64
) -> list[tuple[int, int]]:
    """Keep the runs of `far` that are long enough and whose halves are alike; first and last trace of each."""
    kept = []
    for a, b in spans:
        first, last = a, b + LAG
        agree = float(far[a : b + 1].mean()) / unlike.usual[LAG]
        if last - first + 1 < (_FEWEST if agree < _CLEARLY else _SURE):
            continue
        half = (last - first + 1) // 2
        one, two = (unlike.table[k : k + half].mean(axis=0) for k in (first, last + 1 - half))
        noise = float(near[first:last].mean()) / half
        if float(np.mean(np.square(one - two))) <= _HALVES * noise:
            kept.append((first, last))
    return kept
