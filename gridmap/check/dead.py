"""Dead traces: the recorder stored nothing, or a cable was loose."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.setup import Setup
from gridmap.check.stretch import lost_severity, runs, stretch
from gridmap.check.wave import Wave
from gridmap.model import Bool, Float64

_WEAK = 0.2
"""Direct wave under this share of the usual one: as in `gridmap.condition.faulty`."""


def dead_traces(wave: Wave) -> Bool:
    """Say which traces hold no direct wave, (trace,) bool; all of them where the usual wave is nothing."""
    if not wave.size > 0:
        return np.ones(len(wave.amplitude), bool)
    return np.asarray(wave.amplitude < _WEAK)


def find_dead(line: str, wave: Wave, along_m: Float64, setup: Setup) -> list[Finding]:
    """Find runs of traces that hold no direct wave.

    Parameters
    ----------
    line : str
        Name of the line.
    wave : Wave
        From `gridmap.check.wave.measure_wave`.
    along_m : (trace,) float64
        Distance along the line, metres.
    setup : Setup
        For the severity.

    Returns
    -------
    list of Finding
        One a run.
    """
    dead = dead_traces(wave)
    found = []
    for first, last in runs(dead):
        count = last - first + 1
        before, after = max(first - 1, 0), min(last + 1, len(along_m) - 1)
        severity = lost_severity(float(along_m[after] - along_m[before]), setup)
        what = "every trace is" if count == len(dead) else f"{count} trace{'s are' if count > 1 else ' is'}"
        found.append(
            stretch(
                line,
                "dead",
                severity,
                (first, last),
                along_m,
                (Figure("traces", count, "traces"),),
                f"{what} dead: no direct wave",
                "Check plugs and cables before the next line.",
            )
        )
    return found
