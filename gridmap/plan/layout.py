"""Lines over an area: where each begins and ends, in the order walked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from gridmap.errors import SiteError
from gridmap.plan.request import Point

Axis = Literal["x", "y"]

SHORTEST_M = 0.5
"""A piece shorter than this is not worth a line; it is left out and said."""
MOST_LINES = 2000


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """One line to walk.

    Attributes
    ----------
    name : str
        Such as Y003: it runs along y and is the third of those.
    start_m, end_m : (x, y)
        Local grid, metres.
    """

    name: str
    start_m: Point
    end_m: Point

    @property
    def length_m(self) -> float:
        """Peg to peg, metres."""
        return math.dist(self.start_m, self.end_m)


def lay_lines(
    corners_m: Sequence[Point], axis: Axis, spacing_m: float, zigzag: bool
) -> tuple[list[PlannedLine], float]:
    """Cover an area with lines along one axis.

    Parameters
    ----------
    corners_m : sequence of (x, y)
        At least three, around the area, local grid, metres.
    axis : "x" or "y"
        Which way the lines run.
    spacing_m : float
        From line to line; the last step to the far edge may be shorter.
    zigzag : bool
        Whether every second line is walked back.

    Returns
    -------
    lines : list of PlannedLine
        In the order walked.
    left_out_m : float
        Total length of the pieces too short for a line, metres.

    Raises
    ------
    SiteError
        Where the corners make no area, or the lines would be too many.
    """
    from shapely.geometry import LineString, Polygon

    area = Polygon(corners_m)
    if not area.is_valid or area.area < 0.25:
        raise SiteError(
            "[site] corners: the sides cross each other or hold no area. Give the corners in order around it."
        )
    west, south, east, north = area.bounds
    low, high = (west, east) if axis == "y" else (south, north)
    if (high - low) / spacing_m > MOST_LINES:
        raise SiteError(
            f"[walk] spacing_m = {spacing_m:g}: more than {MOST_LINES} lines. Split the area, or widen the spacing."
        )
    lines: list[PlannedLine] = []
    left_out = 0.0
    for offset in _offsets(low, high, spacing_m):
        ends = (
            ((offset, south - 1), (offset, north + 1))
            if axis == "y"
            else ((west - 1, offset), (east + 1, offset))
        )
        cut = area.intersection(LineString(ends))
        pieces = [g for g in getattr(cut, "geoms", [cut]) if g.geom_type == "LineString" and not g.is_empty]
        runs = sorted(sorted(_round(p) for p in piece.coords) for piece in pieces)
        for run in runs if len(lines) % 2 == 0 or not zigzag else runs[::-1]:
            first, last = run[0], run[-1]
            if math.dist(first, last) < SHORTEST_M:
                left_out += math.dist(first, last)
                continue
            back = zigzag and len(lines) % 2 == 1
            name = f"{axis.upper()}{len(lines) + 1:03d}"
            lines.append(PlannedLine(name, last, first) if back else PlannedLine(name, first, last))
    return lines, left_out


def _offsets(low: float, high: float, spacing_m: float) -> list[float]:
    count = math.floor((high - low) / spacing_m + 1e-6)
    offsets = [
        min(low + k * spacing_m, high) for k in range(count + 1)
    ]  # rounding must not step off the edge
    return offsets if high - offsets[-1] < 0.02 else [*offsets, high]


def _round(point: Sequence[float]) -> Point:
    return round(point[0], 3) + 0.0, round(point[1], 3) + 0.0
