"""What was found, in sentences that a client understands: where, how deep, how sure; not what it is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.model import Interpretation, LinearFeature, Listed, OutlineFeature, PointFeature
from gridmap.model.interpretation import F

MOST = 8
"""Longest list of each kind; the layers hold all."""


def features_in_words(found: Interpretation, rotation_deg: float = 0.0) -> tuple[str, ...]:
    """Describe the surest features.

    Parameters
    ----------
    found : Interpretation
        Surest first within each kind; what a person rejected is passed over.
    rotation_deg : float
        Turn of local x from the map's east, anticlockwise, degrees; bearings are given on the map.

    Returns
    -------
    tuple of str
        A sentence each, with the id that the layers give it; empty where nothing was found.
    """
    lines, outlines = _standing(found.linear), _standing(found.outlines)
    said = [_line(f.feature, f.id, rotation_deg) for f in lines[:MOST]]
    if len(lines) > MOST:
        said.append(f"{len(lines) - MOST} more lines are in features.gpkg.")
    said += [_outline(f.feature, f.id, rotation_deg) for f in outlines[:MOST]]
    if len(outlines) > MOST:
        said.append(f"{len(outlines) - MOST} more outlines are in features.gpkg.")
    points = _standing(found.points)
    said += [_point(f.feature, f.id) for f in points[:MOST]]
    if len(points) > MOST:
        said.append(f"{len(points) - MOST} more points are in features.gpkg.")
    return tuple(said)


def _standing(listed: Sequence[Listed[F]]) -> list[Listed[F]]:
    return [f for f in listed if f.said.status != "rejected"]


def _bearing(angle_deg: float, rotation_deg: float) -> str:
    bearing = (90.0 - angle_deg - rotation_deg) % 180.0
    return f"{bearing:.0f} or {bearing + 180:.0f} degrees"


def _deep(depth: str, sd_m: float) -> str:
    return f"top {depth} deep (1 sigma {sd_m:.2f} m)" if np.isfinite(sd_m) else "depth not known"


def _sure(confidence: float) -> str:
    return f"; confidence {confidence:.2f}" if np.isfinite(confidence) else ""


def _line(f: LinearFeature, name: str, rotation_deg: float) -> str:
    run = f.xyz_m[-1] - f.xyz_m[0]
    length = float(np.hypot(*np.diff(f.xyz_m[:, :2], axis=0).T).sum())
    x, y = f.xyz_m[len(f.xyz_m) // 2, :2]
    ends = f.xyz_m[0, 2], f.xyz_m[-1, 2]
    depth = f"{np.median(f.xyz_m[:, 2]):.2f} m"
    if abs(ends[1] - ends[0]) > 3 * f.depth_sd_m:
        depth = f"{min(ends):.2f} m at one end, {max(ends):.2f} m at the other"
    bearing = _bearing(float(np.degrees(np.arctan2(run[1], run[0]))), rotation_deg)
    return (
        f"{name}: A long, narrow echo, {length:.1f} m on a bearing of {bearing}, centred near x {x:.1f}, y {y:.1f} m; "
        f"{_deep(depth, f.depth_sd_m)}; {f.note}{_sure(f.confidence)}."
    )


def _outline(f: OutlineFeature, name: str, rotation_deg: float) -> str:
    x, y = f.ring_m.mean(axis=0)
    return (
        f"{name}: An echo with an area, about {f.length_m:.1f} by {f.width_m:.1f} m on a bearing of "
        f"{_bearing(f.bearing_deg, rotation_deg)}, centred near x {x:.1f}, y {y:.1f} m; "
        f"{_deep(f'{f.depth_top_m:.2f} m', f.depth_sd_m)}{_sure(f.confidence)}."
    )


def _point(f: PointFeature, name: str) -> str:
    x, y, depth = np.atleast_2d(f.xyz_m)[0]
    note = f"; {f.note}" if f.note else ""
    return (
        f"{name}: A small echo near x {x:.1f}, y {y:.1f} m; {_deep(f'{depth:.2f} m', f.depth_sd_m)}"
        f"{note}{_sure(f.confidence)}."
    )
