"""What was found, in sentences that a client understands: where, how deep, how sure; not what it is."""

from __future__ import annotations

import numpy as np

from gridmap.model import Features, LinearFeature, OutlineFeature

MOST = 8
"""Longest list of each kind; the layers hold all."""


def features_in_words(found: Features, rotation_deg: float = 0.0) -> tuple[str, ...]:
    """Describe the surest features.

    Parameters
    ----------
    found : Features
        Surest first within each kind.
    rotation_deg : float
        Turn of local x from the map's east, anticlockwise, degrees; bearings are given on the map.

    Returns
    -------
    tuple of str
        A sentence each, with the id that the layers give it; empty where nothing was found.
    """
    said = [_line(f, f"L{k + 1}", rotation_deg) for k, f in enumerate(found.linear[:MOST])]
    if len(found.linear) > MOST:
        said.append(f"{len(found.linear) - MOST} more lines are in features.gpkg.")
    said += [_outline(f, f"A{k + 1}", rotation_deg) for k, f in enumerate(found.outlines[:MOST])]
    if len(found.outlines) > MOST:
        said.append(f"{len(found.outlines) - MOST} more outlines are in features.gpkg.")
    return tuple(said)


def _bearing(angle_deg: float, rotation_deg: float) -> str:
    bearing = (90.0 - angle_deg - rotation_deg) % 180.0
    return f"{bearing:.0f} or {bearing + 180:.0f} degrees"


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
        f"top {depth} deep (1 sigma {f.depth_sd_m:.2f} m); {f.note}; confidence {f.confidence:.2f}."
    )


def _outline(f: OutlineFeature, name: str, rotation_deg: float) -> str:
    x, y = f.ring_m.mean(axis=0)
    return (
        f"{name}: An echo with an area, about {f.length_m:.1f} by {f.width_m:.1f} m on a bearing of "
        f"{_bearing(f.bearing_deg, rotation_deg)}, centred near x {x:.1f}, y {y:.1f} m; top {f.depth_top_m:.2f} m deep "
        f"(1 sigma {f.depth_sd_m:.2f} m); confidence {f.confidence:.2f}."
    )
