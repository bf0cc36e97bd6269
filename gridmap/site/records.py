"""What a surveyor writes down about a site, checked and frozen."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

Imaging = Literal["auto", "3d", "2d", "none"]


@dataclass(frozen=True, slots=True)
class ControlPoint:
    """A point known both in the local grid and in the map, metres."""

    name: str
    x_m: float
    y_m: float
    easting_m: float
    northing_m: float


@dataclass(frozen=True, slots=True)
class Antenna:
    """The radar as carried.

    Attributes
    ----------
    frequency_mhz : float
        Nominal centre frequency, megahertz.
    separation_m : float
        Distance from transmitter to receiver along the walking direction, metres.
    height_m : float
        Height of the antennas above the ground, metres.
    """

    frequency_mhz: float
    separation_m: float
    height_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Ground:
    """What the surveyor says of the ground; all None: the velocity is found from the data.

    Attributes
    ----------
    medium : str or None
        Name of a medium in `gridmap.velocity.media`.
    velocity_m_per_ns : float or None
        Mean velocity to the depth of interest, metres per nanosecond.
    velocity_sd_m_per_ns : float or None
        Its standard deviation.
    """

    medium: str | None = None
    velocity_m_per_ns: float | None = None
    velocity_sd_m_per_ns: float | None = None


@dataclass(frozen=True, slots=True)
class LinePlan:
    """Where one line was walked, in the order walked.

    Attributes
    ----------
    name : str
        The line's name: the file's name without suffix unless said otherwise.
    file : Path
        The data file, absolute.
    start_m, end_m : (float, float)
        Local grid x, y of the antenna mid-point at the first and last peg, metres.
    """

    name: str
    file: Path
    start_m: tuple[float, float]
    end_m: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Processing:
    """How the data are treated; None means chosen from the data or the geometry, and said in run.json.

    Attributes
    ----------
    sample_interval_ns : float or None
        Overrules what the line files say.
    band_mhz : (float, float) or None
        Corners of the band-pass, megahertz.
    dewow_ns : float or None
        Length of the dewow window, nanoseconds.
    background_m : float or None
        Length of the moving background window along the line, metres; 0 turns it off.
    imaging : "auto", "3d", "2d" or "none"
        How echoes are brought to their place.
    cell_m : float or None
        Cell side of the volume and of the rasters, metres.
    blank_m : float or None
        Cells farther than this from any trace stay blank, metres.
    depth_max_m : float or None
        Depth of the last slice, metres.
    slice_thickness_m : float or None
        Thickness of a depth slice, metres.
    slice_overlap : float
        Share of a slice that the next one repeats, 0 to below 1.
    """

    sample_interval_ns: float | None = None
    band_mhz: tuple[float, float] | None = None
    dewow_ns: float | None = None
    background_m: float | None = None
    imaging: Imaging = "auto"
    cell_m: float | None = None
    blank_m: float | None = None
    depth_max_m: float | None = None
    slice_thickness_m: float | None = None
    slice_overlap: float = 0.5


@dataclass(frozen=True, slots=True)
class Site:
    """A checked site file.

    Attributes
    ----------
    path : Path
        The site file, absolute.
    name : str
        Name of the site, as it stands on maps.
    description : str
        One sentence for the report; may be empty.
    crs : str or None
        Projected CRS as the user gave it, such as "EPSG:25832"; None: local grid only.
    control : tuple of ControlPoint
        Two or more where `crs` is given.
    control_limit_cm : float
        A residual above this is warned about, centimetres.
    antenna : Antenna
        The radar.
    ground : Ground
        What is known of the ground.
    lines : tuple of LinePlan
        Every line, rules already written out, in the order of the site file.
    size_m : (float, float) or None
        Width along x and length along y of the grid from its origin, metres; None: not stated.
    processing : Processing
        Choices that overrule the defaults.
    """

    path: Path
    name: str
    antenna: Antenna
    lines: tuple[LinePlan, ...]
    description: str = ""
    crs: str | None = None
    control: tuple[ControlPoint, ...] = ()
    control_limit_cm: float = 5.0
    ground: Ground = field(default_factory=Ground)
    size_m: tuple[float, float] | None = None
    processing: Processing = field(default_factory=Processing)
