"""Lines and outlines settled against each other: one thing in the ground is told once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from gridmap.model import Float64, LinearFeature, OutlineFeature, RejectedCandidate

LONG = 3.0
"""An outline this many times as long as wide may be a line."""
LONGISH, GOES_ON = 1.8, 1.2
"""Or this many times, where the line is longer than the outline by the second factor."""
ALONG_SHARE = 0.6
"""Share of its centre line that a linear feature must follow."""
INSIDE_SHARE = 0.7
"""Share of a linear feature that lies inside an outline for it to be part of it."""
SAME_DEPTH_M = 0.2
REPEAT_SHARE = 0.3
"""What lies below a strip at twice the depth of its top, within this share of that depth, is its repeat."""


def settle(
    linear: Sequence[LinearFeature], outlines: Sequence[OutlineFeature]
) -> tuple[list[LinearFeature], list[OutlineFeature], list[RejectedCandidate]]:
    """Drop outlines that are lines, and lines that are parts of outlines.

    Parameters
    ----------
    linear, outlines : sequences
        Those sure enough to be listed.

    Returns
    -------
    linear, outlines : lists
        What stays, in the same order.
    rejected : list of RejectedCandidate
        What does not, and why.
    """
    rejected: list[RejectedCandidate] = []
    kept: list[OutlineFeature] = []
    for outline in outlines:
        if _is_line(outline, linear):
            rejected.append(
                RejectedCandidate(
                    "outline", at_depth(outline.ring_m, outline.depth_top_m), "a linear feature runs along it"
                )
            )
        else:
            kept.append(outline)
    stay: list[LinearFeature] = []
    for feature in linear:
        if any(_is_part(feature, outline) for outline in kept):
            rejected.append(
                RejectedCandidate("linear", feature.xyz_m, "inside an outline: its edge or its repeat")
            )
        else:
            stay.append(feature)
    return stay, kept, rejected


def at_depth(ring_m: Float64, depth_m: float) -> Float64:
    """Give every vertex of a ring (vertex, 2) one depth, (vertex, 3) metres."""
    return np.column_stack([ring_m, np.full(len(ring_m), depth_m)])


def _is_line(outline: OutlineFeature, linear: Sequence[LinearFeature]) -> bool:
    """Say whether a linear feature follows the centre line of a long outline at its depth."""
    turn = np.radians(outline.bearing_deg)
    at = np.linspace(-0.5, 0.5, 41)[:, None] * outline.length_m
    points = outline.ring_m.mean(axis=0) + at * np.array([np.cos(turn), np.sin(turn)])
    for feature in linear:
        path = shapely.LineString(feature.xyz_m[:, :2])
        goes_on = path.length > GOES_ON * outline.length_m
        if outline.length_m < (LONGISH if goes_on else LONG) * outline.width_m:
            continue
        near = shapely.distance(path, shapely.points(points)) < max(0.5 * outline.width_m, 0.2)
        deep = abs(float(np.median(feature.xyz_m[:, 2])) - outline.depth_top_m) < SAME_DEPTH_M
        if deep and near.mean() > ALONG_SHARE:
            return True
    return False


def _is_part(feature: LinearFeature, outline: OutlineFeature) -> bool:
    """Say whether a line lies inside an outline, no higher than its top."""
    path = shapely.LineString(feature.xyz_m[:, :2])
    inside = path.intersection(shapely.Polygon(outline.ring_m).buffer(0.1)).length
    below = float(np.median(feature.xyz_m[:, 2])) - outline.depth_top_m
    # Under a wide body everything repeats; under a strip another line may run.
    deepest = (
        np.inf if outline.length_m < LONG * outline.width_m else (outline.thickness_m or 0.0) + SAME_DEPTH_M
    )
    repeat = abs(below - outline.depth_top_m) < REPEAT_SHARE * outline.depth_top_m
    return (-SAME_DEPTH_M < below < deepest or repeat) and inside > INSIDE_SHARE * path.length
