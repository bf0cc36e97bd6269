"""Lines and areas with depths, as a map tells them or as the ground was found when it was opened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gridmap.model.arrays import Float64

if TYPE_CHECKING:
    import shapely


@dataclass(frozen=True, slots=True)
class DeepLine:
    """A line in plan with the depth to the top along it.

    Attributes
    ----------
    id : str
        Its name.
    path : LineString
        In plan, map metres.
    depth_m : (vertex,) float64
        Depth to the top at each vertex of the path, metres; NaN where not known.
    """

    id: str
    path: shapely.LineString
    depth_m: Float64


@dataclass(frozen=True, slots=True)
class DeepArea:
    """An area in plan with the depth to its top, metres; NaN where not known."""

    id: str
    area: shapely.Polygon
    depth_m: float


@dataclass(frozen=True, slots=True)
class DeepPlan:
    """Lines and areas of one plan."""

    lines: tuple[DeepLine, ...] = ()
    areas: tuple[DeepArea, ...] = ()
