"""What a surveyor asks for before going to the site, checked and frozen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from gridmap.site.records import ControlPoint

Shape = Literal["line", "body", "layer"]
Trend = Literal["x", "y", "any"]
Wetness = Literal["dry", "moist", "wet"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Sought:
    """What is looked for.

    Attributes
    ----------
    shape : "line", "body" or "layer"
        Long and thin (pipe, cable, wall, ditch), compact (tank, grave, void), or flat and wide (floor, bedrock).
    material : str
        A name in `gridmap.plan.target.MATERIALS`; with `permittivity` any words.
    size_m : float
        Diameter of a line, shorter side of a body in plan, thickness of a layer, metres.
    depth_m : float
        Greatest depth of its top at which it must be found, metres.
    trend : "x", "y" or "any"
        Axis along which a line runs.
    detail_m : float or None
        Smallest distance to be told apart, metres; None: the size, 0.1 m at most.
    permittivity : float or None
        Relative permittivity inside, where it is known; None: the material's.
    """

    shape: Shape
    material: str
    size_m: float
    depth_m: float
    trend: Trend = "any"
    detail_m: float | None = None
    permittivity: float | None = None


@dataclass(frozen=True, slots=True)
class GroundAsked:
    """What is known of the ground beforehand; at least a medium, or velocity and conductivity."""

    medium: str | None = None
    wetness: Wetness | None = None
    velocity_m_per_ns: float | None = None
    velocity_sd_m_per_ns: float | None = None
    conductivity_ms_per_m: float | None = None


@dataclass(frozen=True, slots=True)
class AntennaAtHand:
    """An antenna that could be carried: nominal centre frequency and transmitter to receiver."""

    frequency_mhz: float
    separation_m: float


@dataclass(frozen=True, slots=True)
class Area:
    """Where: corners in the local grid, or corners on the map; in either case in order around the area.

    Attributes
    ----------
    corners_m : tuple of (x, y)
        Local grid, metres; empty where the corners are given on the map.
    corners_map_m : tuple of (easting, northing)
        Map, metres; the local grid is then laid along the longest side.
    crs : str or None
        Projected CRS as the user wrote it.
    control : tuple of ControlPoint
        Pegs known in both systems.
    """

    corners_m: tuple[Point, ...] = ()
    corners_map_m: tuple[Point, ...] = ()
    crs: str | None = None
    control: tuple[ControlPoint, ...] = ()


@dataclass(frozen=True, slots=True)
class Walk:
    """How the crew walks and what its recorder can do.

    Attributes
    ----------
    spacing_m : float or None
        Line spacing that the crew insists on, metres; None: proposed.
    both_ways : bool or None
        Whether lines run along both axes; None: proposed.
    zigzag : bool
        Whether every second line is walked back.
    speed_m_per_s, turn_s, setup_min : float
        Walking speed, seconds from one line to the next, minutes for laying out and packing.
    performance_db : float
        Weakest over strongest signal that can be told from noise, antennas included, decibels.
    suffix : str
        Ending of the line files, without the dot.
    """

    spacing_m: float | None = None
    both_ways: bool | None = None
    zigzag: bool = True
    speed_m_per_s: float = 0.8
    turn_s: float = 20.0
    setup_min: float = 60.0
    performance_db: float = 110.0
    suffix: str = "sgy"


@dataclass(frozen=True, slots=True)
class Request:
    """All that a plan needs."""

    name: str
    sought: Sought
    ground: GroundAsked
    antennas: tuple[AntennaAtHand, ...]
    area: Area
    walk: Walk = Walk()
