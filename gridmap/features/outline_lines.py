"""What the lines themselves say of an outline: how many saw it, and whether they agree on its top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from gridmap.model import CleanLine, Float32, Float64

LEAST_TRACES = 3
"""Fewer traces inside an outline are no crossing of it."""
RIM_SHARE = 0.25
"""Traces nearer to the edge than this share of the width do not count for the mean: the edge's own echo joins."""


@dataclass(frozen=True, slots=True)
class Crossed:
    """The traces taken above an outline.

    Attributes
    ----------
    count : int
        Lines with at least `LEAST_TRACES` traces inside.
    agreement : float
        Semblance of the lines' mean traces about the top: 1 where all lines show the same flat echo, one over the
        number of lines where they have nothing to do with each other (Neidell and Taner 1971).
    flatness : float
        Semblance of all traces inside, lines together: limbs of a hyperbola are not flat.
    mean : (sample,) float32
        Mean trace over the inner part.
    """

    count: int
    agreement: float
    flatness: float
    mean: Float32


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
        Semblances over a window of one period about `top_ns`.
    """
    shape = shapely.Polygon(ring_m).buffer(0.0)
    rim = RIM_SHARE * 4 * shape.area / shape.length / 2  # of a square's side; more of a strip's width
    inner = shape.buffer(-rim)
    inner = shape if inner.is_empty or inner.geom_type != "Polygon" else inner
    shapely.prepare(shape)
    shapely.prepare(inner)
    low, high = ring_m.min(axis=0), ring_m.max(axis=0)
    each, core = [], []
    for line in lines:
        near = np.flatnonzero(line.usable & (line.xy_m >= low).all(axis=1) & (line.xy_m <= high).all(axis=1))
        if len(near) < LEAST_TRACES:
            continue
        inside = near[shapely.contains_xy(shape, line.xy_m[near])]
        if len(inside) >= LEAST_TRACES:
            each.append(line.traces[inside])
        deep = near[shapely.contains_xy(inner, line.xy_m[near])]
        if len(deep):
            core.append(line.traces[deep])
    if not each:
        return Crossed(0, 0.0, 0.0, np.zeros(1, np.float32))
    first = max(0, round((top_ns - 0.5 * period_ns) / interval_ns))
    last = max(first + 1, round((top_ns + 0.5 * period_ns) / interval_ns) + 1)
    means = np.array([traces.mean(axis=0) for traces in each])
    mean = np.concatenate(core or each).mean(axis=0)
    return Crossed(
        len(each),
        _semblance(means[:, first:last]),
        _semblance(np.concatenate(each)[:, first:last]),
        np.asarray(mean, dtype=np.float32),
    )


def _semblance(part: Float32) -> float:
    """Power of the mean over mean power, of (trace, sample); 0 below the end of the record."""
    if not part.size:
        return 0.0
    power = float(np.mean(part.astype(float) ** 2))
    return float(np.mean(part.astype(float).mean(axis=0) ** 2) / power) if power > 0 else 0.0
