"""How much two shapes of features tell the same thing, by place and depth."""

from __future__ import annotations

import math

import shapely

from gridmap.model.interpretation import Kind

NEAR_M = 0.3
"""Lines and points nearer than this in plan may be the same, metres."""
LEAST_SHARE = 0.6
"""Share of the shorter line that must run along the other."""
LEAST_OVERLAP = 0.3
"""Intersection over union that two areas must have."""
DEEP_M, DEEP_SHARE = 0.2, 0.3
"""Depths may differ by the larger of these between runs: metres, share of the depth (the velocity may have changed)."""


def likeness(
    kind: Kind, shape: shapely.Geometry, depth_m: float, other: shapely.Geometry, other_depth_m: float
) -> float:
    """Say how alike two shapes are.

    Parameters
    ----------
    kind : Kind
        Of both.
    shape, other : shapely geometry
        In plan, metres, in the same frame.
    depth_m, other_depth_m : float
        Depths to the top, metres; NaN where not known.

    Returns
    -------
    float
        0: not the same; up to 1: the same.
    """
    deeper = depth_apart(depth_m, other_depth_m)
    if deeper > 1.0:
        return 0.0
    if kind == "linear":
        one, two = share_along(shape, other), share_along(other, shape)
        plan = 0.5 * (one + two) if max(one, two) >= LEAST_SHARE else 0.0
    elif kind == "outline":
        a, b = shapely.make_valid(shape), shapely.make_valid(other)
        union = a.union(b).area
        plan = a.intersection(b).area / union if union > 0 else 0.0
        plan = plan if plan >= LEAST_OVERLAP else 0.0
    else:
        plan = max(0.0, 1.0 - shape.distance(other) / NEAR_M)
    return plan * (1.0 - 0.5 * deeper)


def depth_apart(depth_m: float, other_depth_m: float) -> float:
    """How far depths are apart, in units of what may lie between two runs; 0 where one is not known."""
    if not (math.isfinite(depth_m) and math.isfinite(other_depth_m)):
        return 0.0
    return abs(depth_m - other_depth_m) / max(DEEP_M, DEEP_SHARE * min(depth_m, other_depth_m))


def share_along(shape: shapely.Geometry, other: shapely.Geometry) -> float:
    """Share of a line that runs within `NEAR_M` of another, of an area inside another; 1 or 0 for a point."""
    if shape.geom_type == "Polygon":
        a = shapely.make_valid(shape)
        return float(a.intersection(shapely.make_valid(other)).area / a.area) if a.area > 0 else 0.0
    if shape.length == 0:
        return float(shape.distance(other) <= NEAR_M)
    return float(shape.intersection(other.buffer(NEAR_M)).length / shape.length)
