"""A track of fixes, surveyed points and terrain, as their files hold them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from gridmap.model.arrays import Float32, Float64, Int64

Frame = Literal["degrees", "map", "local"]
"""What two numbers of a place are: longitude and latitude, easting and northing, or local x and y."""

QUALITY_WORDS: dict[int, str] = {
    -1: "not stated",
    0: "no fix",
    1: "autonomous",
    2: "differential",
    3: "precise service",
    4: "fixed",
    5: "float",
    6: "dead reckoning",
    7: "entered by hand",
    8: "simulated",
}
"""Quality codes of the GGA sentence in words; -1 is ours, for a file that does not say."""


@dataclass(frozen=True, slots=True)
class Track:
    """Fixes of a positioning receiver, in the order of time.

    Attributes
    ----------
    time_s : (fix,) float64
        Strictly increasing. UTC seconds since 1970-01-01 where `dated`, else seconds since the midnight
        before the first fix (they go on above 86 400 after the next midnight).
    dated : bool
        Whether the file says which day it is.
    frame : "degrees", "map" or "local"
        What `place` holds.
    place : (fix, 2) float64
        Longitude and latitude in degrees, east and north positive; or easting and northing, or local x
        and y, metres.
    height_m : (fix,) float64
        As recorded: above the geoid for NMEA 0183. NaN where none.
    geoid_m : (fix,) float64
        Geoid above the ellipsoid, metres; height plus this is the height above the ellipsoid. NaN where
        none.
    quality : (fix,) int64
        Codes of the GGA sentence, see `QUALITY_WORDS`; -1 where the file does not say.
    sd_m : (fix, 3) float64
        One standard deviation east, north and up, metres; NaN where none.
    source : str
        The file, as a message would name it.
    notes : tuple of str
        What was left out or assumed, in words.
    """

    time_s: Float64
    dated: bool
    frame: Frame
    place: Float64
    height_m: Float64
    geoid_m: Float64
    quality: Int64
    sd_m: Float64
    source: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Points:
    """Surveyed points, such as those of a total station or of a levelling of the ground.

    Attributes
    ----------
    names : tuple of str
        One a point; empty text where the file names none.
    frame : "map" or "local"
        What `xyz_m` holds.
    xyz_m : (point, 3) float64
        Easting and northing or local x and y, then height, metres; height NaN where none.
    source : str
        The file, as a message would name it.
    notes : tuple of str
        What was assumed, in words.
    """

    names: tuple[str, ...]
    frame: Frame
    xyz_m: Float64
    source: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stations:
    """Surveyed points on lines.

    Attributes
    ----------
    lines : tuple of str
        The line that each point lies on.
    frame : "map" or "local"
        What `xyz_m` holds.
    xyz_m : (point, 3) float64
        Easting and northing or local x and y, then height, metres; height NaN where none.
    trace : (point,) float64
        Number of the trace taken there (1 is the first); NaN where not stated.
    station_m : (point,) float64
        Taped distance along the line, metres; NaN where not stated.
    source : str
        The file, as a message would name it.
    notes : tuple of str
        What was assumed, in words.
    """

    lines: tuple[str, ...]
    frame: Frame
    xyz_m: Float64
    trace: Float64
    station_m: Float64
    source: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HeightRaster:
    """A raster of ground heights.

    Attributes
    ----------
    height_m : (row, column) float32
        NaN where there is no data.
    affine : six floats
        (a, b, c, d, e, f) of E = a col + b row + c, N = d col + e row + f, at the outer corner of a cell.
    crs_wkt : str or None
        What the file says its co-ordinates are.
    source : str
        The file, as a message would name it.
    """

    height_m: Float32
    affine: tuple[float, float, float, float, float, float]
    crs_wkt: str | None
    source: str = ""
