"""What the lines themselves say of an outline: how many saw it, and whether they agree on its top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from gridmap.model import CleanLine, Float32, Float64
from gridmap.model.feature import Polarity

LEAST_TRACES = 3
"""Fewer traces inside an outline are no crossing of it."""


@dataclass(frozen=True, slots=True)
class Crossed:
    """The traces taken above an outline.

    Attributes
    ----------
    count : int
        Lines with at least `LEAST_TRACES` traces inside.
    agreement : float
        Semblance of the lines' mean traces about the top, 1 where all lines show the same flat echo and one over
        the number of lines where they have nothing to do with each other (Neidell and Taner 1971).
    mean : (sample,) float32
        Mean trace inside.
    polarity : Polarity
        Sign of the strongest half-wave about the top, against the direct wave.
    """

    count: int
    agreement: float
    mean: Float32
    polarity: Polarity


def look_below(
    lines: Sequence[CleanLine], ring_m: Float64, interval_ns: float, top_ns: float, period_ns: float
) -> Crossed:
    """Look at the traces taken above an outline.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned lines on one time axis.
    ring_m : (vertex, 2) float64
        The outline, metres.
    interval_ns : float
        Sample interval, nanoseconds.
    top_ns : float
        Two-way time of its top.
    period_ns : float
        One period of the centre frequency.

    Returns
    -------
    Crossed
        Over a window of one period about `top_ns`.
    """
    low, high = ring_m.min(axis=0), ring_m.max(axis=0)
    shape = shapely.Polygon(ring_m)
    shapely.prepare(shape)
    means = []
    for line in lines:
        near = np.flatnonzero(line.usable & (line.xy_m >= low).all(axis=1) & (line.xy_m <= high).all(axis=1))
        if len(near) < LEAST_TRACES:
            continue
        inside = near[shapely.contains_xy(shape, line.xy_m[near])]
        if len(inside) >= LEAST_TRACES:
            means.append(line.traces[inside].mean(axis=0))
    if not means:
        return Crossed(0, 0.0, np.zeros(lines[0].traces.shape[1], np.float32), "unclear")
    each = np.array(means)
    mean = each.mean(axis=0)
    first = max(0, round((top_ns - 0.5 * period_ns) / interval_ns))
    last = max(first + 1, round((top_ns + 0.5 * period_ns) / interval_ns) + 1)
    part = each[:, first:last].astype(float)
    power = float((part**2).sum())
    agreement = float((part.sum(axis=0) ** 2).sum() / (len(part) * power)) if power > 0 else 0.0
    return Crossed(len(each), agreement, np.asarray(mean, dtype=np.float32), _sign(mean[first:last]))


def _sign(part: Float32) -> Polarity:
    """Sign of a half-wave that is clearly the greatest."""
    up, down = float(part.max()), float(-part.min())
    if max(up, down) < 1.25 * min(up, down):
        return "unclear"
    return "same" if up > down else "reversed"
