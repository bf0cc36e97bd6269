"""What the map does with findings: bad stretches count less, or not at all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.check.finding import Finding
from gridmap.model import Float32

_AS_NOISY = 3.0
"""A stretch this many times as noisy as usual still counts in full; beyond, in inverse proportion to its noise."""
BLANKED = ("stopped", "backed up")
"""Traces laid out as ground that they were not taken on; lifted and dead ones are left out by the recipe already."""
LIGHTER = ("bump", "burst")


def trace_weights(findings: Sequence[Finding], count: int) -> Float32:
    """Weigh the traces of a line by what was found on it.

    Parameters
    ----------
    findings : sequence of Finding
        Of the line.
    count : int
        Its traces.

    Returns
    -------
    (trace,) float32
        1: as usual; less: noisier; 0: not to be mapped. A sum over traces of which some hold k times the noise is
        best where those count 1 / k^2; they hold echoes of their own all the same, so 1 / k past three times.
        Of a stop the first trace stays, of backing up the first pass.
    """
    weight = np.ones(count, np.float32)
    for f in findings:
        if f.first_trace is None or f.last_trace is None:
            continue
        first, last = f.first_trace - 1, f.last_trace
        if f.kind in LIGHTER:
            noise = max(f.figures[0].value, 1e-6)
            weight[first:last] = np.minimum(weight[first:last], np.float32(min(1.0, _AS_NOISY / noise)))
        elif f.kind == "stopped":
            weight[first + 1 : last] = 0.0
        elif f.kind == "backed up":
            weight[first + (last - first) // 3 : last] = 0.0
    return weight


def weights_in_words(weights: dict[str, Float32]) -> str | None:
    """Say how many traces of which lines count less or are left out; None: all count alike."""
    lighter = {name: int(((w < 1) & (w > 0)).sum()) for name, w in weights.items()}
    blank = {name: int((w == 0).sum()) for name, w in weights.items()}
    said = []
    repeated = "left out where the antenna stood still or went back"
    for what, held in (("count less, being noisy", lighter), (repeated, blank)):
        some = [name for name, n in held.items() if n]
        if some:
            names = ", ".join(some[:4]) + (f" and {len(some) - 4} more lines" if len(some) > 4 else "")
            said.append(f"{sum(held.values())} traces {what} ({names})")
    return "; ".join(said) if said else None
