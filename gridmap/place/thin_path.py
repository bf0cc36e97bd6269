"""A path with fewer vertices that still tells where every metre along it lies."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gridmap.model import Float64


def thin_path(xy_m: Float64, along_m: Float64, tolerance_m: float = 0.01) -> NDArray[np.int64]:
    """Choose vertices between which place and distance run evenly.

    Parameters
    ----------
    xy_m : (point, 2) float64
        The path, metres.
    along_m : (point,) float64
        Distance along it, metres.
    tolerance_m : float
        No point lies farther than this from where the chosen ones put it, place and distance taken together.

    Returns
    -------
    (vertex,) int64
        Indexes, rising; the first and the last point are among them.

    Notes
    -----
    Douglas and Peucker 1973 [memory], by the index of a point rather than by the nearest place on the chord.
    """
    points = np.column_stack([xy_m, along_m])
    last = len(points) - 1
    kept = {0, last}
    open_spans = [(0, last)]
    while open_spans:
        first, end = open_spans.pop()
        if end - first < 2:
            continue
        inner = np.arange(first + 1, end)
        span = points[end] - points[first]
        length = float(span[2])
        share = (
            (points[inner, 2] - points[first, 2]) / length if length > 0 else (inner - first) / (end - first)
        )
        off = np.abs(points[inner] - points[first] - share[:, None] * span).max(axis=1)
        worst = int(np.argmax(off))
        if off[worst] > tolerance_m:
            middle = int(inner[worst])
            kept.add(middle)
            open_spans += [(first, middle), (middle, end)]
    return np.array(sorted(kept), np.int64)
