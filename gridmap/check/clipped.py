"""Samples at the rails of the recorder, and signals that use too few of its steps."""

from __future__ import annotations

import numba as nb
import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.stretch import whole_line
from gridmap.check.wave import Wave
from gridmap.model import Bool, Float32

_LEAST_RUN = 2
"""A rail is where neighbouring samples stand at the line's very largest or smallest value."""
_LEAST_SHARE = 0.05
"""Share of traces in which that must happen."""
_FEW_STEPS = 2.0


def find_clipping(line: str, traces: Float32, wave: Wave, dead: Bool) -> list[Finding]:
    """Find clipped samples and weak gain.

    Parameters
    ----------
    line : str
        Name of the line.
    traces : (trace, sample) float32
        As recorded.
    wave : Wave
        Where the direct wave ends.
    dead : (trace,) bool
        Traces that are not looked at.

    Returns
    -------
    list of Finding
        "clipped" where two or more samples in a row stand at the largest or smallest value of the line, in at least one
        trace in twenty. "weak" where half of the late samples differ from the trace before by less than two steps of
        the recorder: the echoes drown in its steps.
    """
    good = traces[~dead]
    if not good.size:
        return []
    early, late = _at_rails(np.ascontiguousarray(good), wave.early, float(good.min()), float(good.max()))
    found = []
    if late > _LEAST_SHARE:
        found.append(
            whole_line(
                line,
                "clipped",
                "walk again",
                (Figure("traces with clipped echoes", 100 * late, "%"),),
                f"echoes are clipped in {100 * late:.0f} % of the traces",
                "Lower the gain and walk the line again.",
            )
        )
    elif early > _LEAST_SHARE:
        found.append(
            whole_line(
                line,
                "clipped",
                "attention",
                (Figure("traces with a clipped direct wave", 100 * early, "%"),),
                f"the direct wave is clipped in {100 * early:.0f} % of the traces: time zero and shallow echoes suffer",
                "Lower the gain for the next line.",
            )
        )
    return found + _weak(line, good, wave.early)


def _weak(line: str, good: Float32, early: int) -> list[Finding]:
    """Tell where echoes are no larger than the recorder's own steps."""
    late = good[:: max(1, len(good) // 60), early:]
    values = np.unique(late)
    if len(values) < 3:
        return []
    steps = np.diff(values)
    step = float(np.median(steps))
    if step <= 0 or np.mean(np.abs(steps / step - np.rint(steps / step)) < 0.02) < 0.95:
        return []  # no lattice: floating point, or gained after recording
    swing = np.abs(np.diff(late, axis=1))
    used = float(np.median(swing)) / step
    if used >= _FEW_STEPS or float(np.percentile(swing, 90)) / step >= 2 * _FEW_STEPS:
        return []
    severity: Severity = "attention"
    return [
        whole_line(
            line,
            "weak",
            severity,
            (Figure("steps used", used, ""),),
            "late echoes are no larger than the recorder's steps: the gain is too low",
            "Raise the gain and walk one line again to compare.",
        )
    ]


@nb.njit(cache=True, nogil=True)
def _at_rails(traces, early, low, high):  # type: ignore[no-untyped-def]
    """Share of traces with two samples in a row at a rail: in the direct wave, and after it."""
    first, after = 0, 0
    for i in range(len(traces)):
        row = traces[i]
        a, b, run = False, False, 1
        for k in range(1, len(row)):
            at = (row[k] == high and row[k - 1] == high) or (row[k] == low and row[k - 1] == low)
            run = run + 1 if at else 1
            if run >= _LEAST_RUN:
                if k < early:
                    a = True
                else:
                    b = True
        first += a
        after += b
    return first / len(traces), after / len(traces)
