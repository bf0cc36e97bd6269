"""Dead traces: the recorder stored nothing, or a cable was loose."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.stretch import runs, stretch
from gridmap.model import Float32, Float64

_WEAK = 0.2


def find_dead(line: str, traces: Float32, along_m: Float64) -> list[Finding]:
    """Find runs of traces that hold no direct wave.

    Parameters
    ----------
    line : str
        Name of the line.
    traces : (trace, sample) float32
        As recorded.
    along_m : (trace,) float64
        Distance along the line, metres.

    Returns
    -------
    list of Finding
        A trace is dead where its largest swing from its own mean is under a fifth of the line's median, as in
        `gridmap.condition.faulty`.
    """
    peak = np.abs(traces - traces.mean(axis=1, keepdims=True)).max(axis=1)
    usual = float(np.median(peak))
    if not usual > 0:
        return [
            stretch(
                line, "dead", "walk again", (0, len(traces) - 1), along_m, (Figure("traces", len(traces), "traces"),),
                "every trace is empty", "Check cables and power, and walk the line again.",
            )
        ]  # fmt: skip
    found = []
    for span in runs(peak < _WEAK * usual):
        count = span[1] - span[0] + 1
        found.append(
            stretch(
                line, "dead", "attention", span, along_m, (Figure("traces", count, "traces"),),
                f"{count} dead trace{'s' * (count > 1)}", "Check the antenna's cable.",
            )
        )  # fmt: skip
    return found
