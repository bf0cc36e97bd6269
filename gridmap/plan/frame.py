"""The local grid and the map: corners, pegs and stakes in both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.errors import SiteError
from gridmap.model.transform import Similarity
from gridmap.place.control import fit_similarity
from gridmap.place.crs import area_warning, projected_crs
from gridmap.plan.request import Area, Point
from gridmap.site.records import ControlPoint


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the grid lies.

    Attributes
    ----------
    corners_m : tuple of (x, y)
        The area in the local grid, metres, anticlockwise or clockwise as given.
    to_map : Similarity or None
        From the local grid to the map; None: grid metres only.
    control : tuple of ControlPoint
        For the site file; with corners given on the map, the pegs to be set out.
    warnings : tuple of str
        What to look at.
    """

    corners_m: tuple[Point, ...]
    to_map: Similarity | None
    control: tuple[ControlPoint, ...]
    warnings: tuple[str, ...] = ()

    def map_of(self, point: Point) -> Point | None:
        """Easting and northing of a local point, metres; None without a map."""
        if self.to_map is None:
            return None
        e, n = self.to_map.to_map(np.asarray(point, dtype=np.float64)).tolist()
        return e, n


def lay_frame(area: Area) -> Frame:
    """Find corners, transform and pegs.

    Raises
    ------
    PlaceError
        Where crs or control points cannot be right.
    SiteError
        Where they do not go together.
    """
    wkt = None if area.crs is None else projected_crs(area.crs)
    if area.corners_map_m:
        if wkt is None:
            raise SiteError(
                '[site] crs: is missing beside corners_map_m. Write it, such as crs = "EPSG:25832".'
            )
        to_map = _along_longest(area.corners_map_m)
        local = to_map.to_local(np.asarray(area.corners_map_m, dtype=np.float64))
        local[np.abs(local) < 5e-4] = 0.0
        corners = tuple((round(x, 3), round(y, 3)) for x, y in local.tolist())
        pegs = tuple(_peg(name, point, to_map) for name, point in zip("ABCD", box(corners), strict=True))
        return Frame(corners, to_map, pegs, _outside(wkt, pegs))
    if not area.control:
        return Frame(area.corners_m, None, ())
    if wkt is None:
        raise SiteError('[site] crs: is missing beside [[control]]. Write it, such as crs = "EPSG:25832".')
    fit = fit_similarity(area.control)
    return Frame(area.corners_m, fit.transform, area.control, (*fit.warnings, *_outside(wkt, area.control)))


def box(corners: Sequence[Point]) -> tuple[Point, Point, Point, Point]:
    """Corners of the upright rectangle around points, anticlockwise from the least x and y."""
    x, y = [p[0] for p in corners], [p[1] for p in corners]
    return (min(x), min(y)), (max(x), min(y)), (max(x), max(y)), (min(x), max(y))


def _along_longest(corners: Sequence[Point]) -> Similarity:
    """Lay x along the longest side, so that the area lies to its left; the origin is the rectangle's corner."""
    points = list(corners)
    turned = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, points[1:] + points[:1], strict=True))
    if turned < 0:
        points.reverse()
    start, end = max(
        zip(points, points[1:] + points[:1], strict=True), key=lambda side: round(math.dist(*side), 6)
    )
    length = math.dist(start, end)
    if length == 0:
        raise SiteError("[site] corners_map_m: all corners are one point. Give the corners of the area.")
    a, b = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    first = Similarity(start[0], start[1], a, b)
    least = first.to_local(np.asarray(points, dtype=np.float64)).min(axis=0)
    e0, n0 = first.to_map(least).tolist()
    return Similarity(e0, n0, a, b)


def _peg(name: str, point: Point, to_map: Similarity) -> ControlPoint:
    e, n = to_map.to_map(np.asarray(point, dtype=np.float64)).tolist()
    return ControlPoint(name, point[0], point[1], round(e, 3), round(n, 3))


def _outside(wkt: str, control: Sequence[ControlPoint]) -> tuple[str, ...]:
    said = area_warning(wkt, control[0].easting_m, control[0].northing_m)
    return () if said is None else (said,)
