"""Whether a point is part of something that is listed already: one thing in the ground is told once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from gridmap.model import Float64, LinearFeature, OutlineFeature, PointFeature

ON_LINE_M = 0.35
"""As near to a line in plan as this, at its depth or below, a point is its echo."""
AT_EDGE_M = 0.35
"""As near to an outline as this, or inside it, at its top or below, a point is its edge, corner or repeat."""
OVER_M = 0.2
"""Higher than this above a feature, a point is something else."""
SAME_PLACE_M = 0.3
"""Points nearer than this in plan are one thing; the lower is its base or its repeat."""


def part_of(
    xyz_m: Float64,
    linear: Sequence[LinearFeature],
    outlines: Sequence[OutlineFeature],
    points: Sequence[PointFeature],
) -> str | None:
    """Say of which listed thing a point is part.

    Parameters
    ----------
    xyz_m : (3,) float64
        Local x, y and depth, metres.
    linear, outlines, points : sequences
        Listed, or surer.

    Returns
    -------
    str or None
        The reason against it; empty where the same point is told already; None where it stands by itself.
    """
    place = shapely.Point(xyz_m[:2])
    for point in points:
        if np.hypot(*(point.xyz_m[:2] - xyz_m[:2])) <= SAME_PLACE_M:
            return ""
    for line in linear:
        path = shapely.LineString(line.xyz_m[:, :2])
        if path.distance(place) > ON_LINE_M:
            continue
        nearest = int(np.hypot(*(line.xyz_m[:, :2] - xyz_m[:2]).T).argmin())
        if xyz_m[2] > line.xyz_m[nearest, 2] - OVER_M:
            return "on or below a line: part of it or its repeat"
    for outline in outlines:
        near = shapely.Polygon(outline.ring_m).distance(place) <= AT_EDGE_M
        if near and xyz_m[2] > outline.depth_top_m - OVER_M:
            return "in or at the edge of an outline: its edge, its corner or its repeat"
    return None
