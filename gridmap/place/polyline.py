"""Place a profile along a polyline: spread by trigger count from its first vertex to its last."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Line, PlacedLine
from gridmap.place.fiducial import along_vertices, trigger_counts

_SHORTEST_M = 0.01


def place_on_polyline(
    line: Line, vertices_m: Sequence[tuple[float, float]], offset_along_m: float = 0.0
) -> PlacedLine:
    """Spread a line's traces evenly, by trigger count, along a polyline.

    Parameters
    ----------
    line : Line
        In the order walked; its first and last trace lie on the first and last vertex.
    vertices_m : sequence of (x, y)
        Two or more, local grid, metres.
    offset_along_m : float
        How far the antenna mid-point was ahead of the mark held to the vertices, along the polyline, metres.

    Returns
    -------
    PlacedLine
        `along_m` runs along the polyline.

    Raises
    ------
    PlaceError
        Fewer than two vertices or traces; two neighbouring vertices in one place or not finite.
    """
    places = np.asarray(vertices_m, dtype=np.float64).reshape(-1, 2)
    if len(places) < 2:
        raise PlaceError(f"line {line.name}: its polyline has {len(places)} vertices; two are the least.")
    way = np.hypot(*np.diff(places, axis=0).T)
    bad = np.flatnonzero(~(way >= _SHORTEST_M) | ~np.isfinite(way))
    if bad.size:
        raise PlaceError(
            f"line {line.name}: vertices {int(bad[0]) + 1} and {int(bad[0]) + 2} of its polyline are in one place."
            " Correct polyline_m."
        )
    counts = trigger_counts(line)
    if len(counts) < 2:
        raise PlaceError(f"line {line.name} has {len(counts)} traces, too few for a profile. Take it out.")
    station = np.concatenate([[0.0], np.cumsum(way)])
    along_m = (counts - counts[0]) / (counts[-1] - counts[0]) * station[-1]
    xy_m, _ = along_vertices(along_m + offset_along_m, station, places)
    return PlacedLine(line, xy_m, along_m)
