"""Points to set out on the ground: ends, bends and regular places of what was found, accepted or drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from gridmap.features.interpret import plan_shape
from gridmap.model import Float64, Interpretation, Listed, OutlineFeature, PointFeature, Similarity

EVERY_M = 5.0
"""Regular points along a feature, metres."""
BEND_M = 0.15
"""A path that strays no more than this from the straight has no bend, metres."""
CLEAR_M = 0.5
"""A regular point nearer than this to an end or a bend is left out, metres."""


@dataclass(frozen=True, slots=True)
class Stake:
    """One point to set out.

    Attributes
    ----------
    name : str
        Identity of the feature and a number, such as "L3-2".
    feature : str
        Identity of the feature.
    east_m, north_m : float
        On the map, metres.
    depth_m, sd_m : float
        To the top below the ground and one standard deviation, metres; NaN where not known.
    place : str
        "end", "bend", "corner", "between" or "point".
    class_name : str
        What a person says that it is.
    """

    name: str
    feature: str
    east_m: float
    north_m: float
    depth_m: float
    sd_m: float
    place: str
    class_name: str


def stakes(what: Interpretation, transform: Similarity, every_m: float = EVERY_M) -> tuple[Stake, ...]:
    """Choose the points.

    Parameters
    ----------
    what : Interpretation
        Features; what a person rejected is passed over.
    transform : Similarity
        Takes local x, y to the map.
    every_m : float
        Distance between regular points, metres.

    Returns
    -------
    tuple of Stake
        By feature, each in the order along it.
    """
    out: list[Stake] = []
    listed: tuple[Listed[Any], ...] = (*what.linear, *what.outlines, *what.points)
    for f in listed:
        if f.said.status != "rejected":
            out += _of(f, transform, every_m)
    return tuple(out)


def share_along(xy_m: Float64) -> Float64:
    """Share of the length of a path (vertex, 2) at each vertex, 0 to 1."""
    along = np.concatenate([[0.0], np.hypot(*np.diff(xy_m, axis=0).T).cumsum()])
    return np.asarray(along / along[-1] if along[-1] > 0 else along)


def _of(f: Listed[Any], transform: Similarity, every_m: float) -> list[Stake]:
    shape = plan_shape(f.feature, transform) if f.shape is None else f.shape
    sd = f.feature.depth_sd_m
    if isinstance(f.feature, PointFeature):
        depth = float(np.atleast_2d(f.feature.xyz_m)[0, 2])
        return [Stake(f"{f.id}-1", f.id, shape.x, shape.y, depth, sd, "point", f.said.class_name)]
    area = isinstance(f.feature, OutlineFeature)
    path = shapely.LineString(shapely.get_coordinates(shape.exterior if area else shape))
    at, places = _places(path, every_m, closed=area)
    spots = shapely.get_coordinates(shapely.line_interpolate_point(path, at))
    if area:
        depths = np.full(len(at), f.feature.depth_top_m)
    else:
        xyz = f.feature.xyz_m
        depths = np.interp(at / path.length, share_along(xyz[:, :2]), xyz[:, 2])
    return [
        Stake(f"{f.id}-{k + 1}", f.id, float(e), float(n), float(d), sd, place, f.said.class_name)
        for k, ((e, n), d, place) in enumerate(zip(spots, depths, places, strict=True))
    ]


def _places(path: shapely.LineString, every_m: float, closed: bool) -> tuple[Float64, list[str]]:
    """Distances along a path, metres, and what stands there; ends and bends first, regular points clear of them."""
    corners = shapely.get_coordinates(path.simplify(BEND_M, preserve_topology=False))
    length = path.length
    along = np.concatenate([[0.0], np.hypot(*np.diff(shapely.get_coordinates(path), axis=0).T).cumsum()])
    vertices = shapely.get_coordinates(path)
    fixed: list[float] = []
    first = 0
    for corner in corners:  # corners are vertices, in order
        first += int(np.flatnonzero((vertices[first:] == corner).all(axis=1))[0])
        fixed.append(float(along[first]))
    if closed:
        fixed = fixed[:-1]
    regular = [k * every_m for k in range(1, math.ceil(length / every_m))]
    ends = [*fixed, length] if closed else fixed
    kept = [s for s in regular if min(abs(s - e) for e in ends) >= CLEAR_M]
    word = {s: ("corner" if closed else "end" if s in (fixed[0], fixed[-1]) else "bend") for s in fixed}
    order = sorted({*fixed, *kept})
    return np.array(order), [word.get(s, "between") for s in order]
