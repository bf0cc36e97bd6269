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
_HALVES = 1.6
"""The same of the means of both halves of a stop, which hold less noise, so that slow change shows."""
_FEWEST, _SURE = 12, 20
"""Traces of a stop, at least; fewer than the second count only where the traces agree within `_CLEARLY` of usual: ground
that is the same over half a metre looks like a stop of ten traces."""
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
    still = (far < _STILL * unlike.usual[LAG]) & (far <= _NO_GROWTH * local)
    bad = np.convolve(out.astype(int), np.ones(LAG + 1, int), mode="valid") > 0
    still &= ~bad
    found = []
    for a, b in runs(still, join=1):
        first, last = a, b + LAG
        agree = float(far[a : b + 1].mean()) / unlike.usual[LAG]
        if last - first + 1 < (_FEWEST if agree < _CLEARLY else _SURE):
            continue
        half = (last - first + 1) // 2
        one, two = (
            unlike.table[first : first + half].mean(axis=0),
            unlike.table[last + 1 - half : last + 1].mean(axis=0),
        )
        noise = float(near[first:last].mean()) / half
        if float(np.mean(np.square(one - two))) > _HALVES * noise:
            continue
        count = last - first + 1
        severity: Severity = "attention"
        found.append(
            stretch(
                line, "stopped", severity, (first, last), along_m, (Figure("repeated", count - 1, "traces"),),
                f"stood still for {count} traces, which are laid out as ground",
                "Cut the repeated traces out, or walk it again with the wheel as trigger.",
            )
        )  # fmt: skip
    return found
