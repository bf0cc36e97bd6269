"""Dug ground: inside a grave, pit or trench the layering of the ground around is cut off.

A cut that was filled again seldom echoes by its edges, but the layers that it went through are gone inside it: its
traces are no longer like the mean trace of the ground around. How much less is nothing by itself, since layering comes
and goes; so the same is asked at many places of the survey, with the same shape, and the rank among them is told.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import affinity

from gridmap.model import CleanLine, Float32, Float64

RING_M = (0.1, 0.5)
"""Ground around that is compared, metres from the edge."""
LEAST_INSIDE, LEAST_AROUND = 12, 30
"""Traces; fewer tell nothing."""
PLACES = 200
"""Places tried."""
LEAST_PLACES = 50


def interruption_rank(
    lines: Sequence[CleanLine], area: shapely.Polygon, interval_ns: float, from_ns: float, to_ns: float
) -> float | None:
    """Rank of an area among other places of the survey by how much its layering is cut off.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned lines on one time axis.
    area : Polygon
        In plan, local metres.
    interval_ns : float
        Sample interval.
    from_ns, to_ns : float
        Two-way times between which layering is looked at.

    Returns
    -------
    float or None
        Share of other places, shifted and turned at random (always the same ones), whose traces are more like the
        ground around them; 1: of none is the layering cut off as much. None where too few traces lie inside or
        around, or the survey has no room for other places.
    """
    xy = np.concatenate([ln.xy_m[ln.usable] for ln in lines])
    first, last = max(0, round(from_ns / interval_ns)), round(to_ns / interval_ns)
    traces = np.concatenate([ln.traces[ln.usable, first:last] for ln in lines])
    if traces.shape[1] < 8 or not len(xy):
        return None
    # Every sample with the same say, though echoes fade with time.
    power = np.mean(traces**2, axis=0, dtype=np.float64)
    traces = np.asarray(traces / np.sqrt(np.maximum(power, 1e-30)), dtype=np.float32)
    own = _cut_off(xy, traces, area)
    if own is None:
        return None
    rng = np.random.default_rng(31)  # the same places every time
    low, high = xy.min(axis=0), xy.max(axis=0)
    around = area.buffer(RING_M[1])
    others = []
    for _ in range(4 * PLACES):
        move = rng.uniform(low, high) - np.array([area.centroid.x, area.centroid.y])
        other = affinity.rotate(affinity.translate(area, *move), float(rng.uniform(0, 180)), "centroid")
        if not other.intersects(around) and (value := _cut_off(xy, traces, other)) is not None:
            others.append(value)
            if len(others) == PLACES:
                break
    return float(np.mean(np.array(others) < own)) if len(others) >= LEAST_PLACES else None


def _cut_off(xy: Float64, traces: Float32, area: shapely.Polygon) -> float | None:
    """Mean likeness of the traces around an area to their own mean, less that of the traces inside; None: too few."""
    wide = area.buffer(RING_M[1])
    x0, y0, x1, y1 = wide.bounds
    near = np.flatnonzero((xy[:, 0] >= x0) & (xy[:, 0] <= x1) & (xy[:, 1] >= y0) & (xy[:, 1] <= y1))
    inside = near[shapely.contains_xy(area, xy[near])]
    ring = near[shapely.contains_xy(wide.difference(area.buffer(RING_M[0])), xy[near])]
    if len(inside) < LEAST_INSIDE or len(ring) < LEAST_AROUND:
        return None
    mean = traces[ring].mean(axis=0)
    like = [
        float(np.mean(part @ mean / np.maximum(np.linalg.norm(part, axis=1), 1e-30)))
        for part in (traces[ring], traces[inside])
    ]
    return (like[0] - like[1]) / max(float(np.linalg.norm(mean)), 1e-30)
