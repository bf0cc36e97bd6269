"""What a surveyor writes down about a site, checked and frozen."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from gridmap.model.layout import Layouts
from gridmap.site.recipes import GENERAL, Steps

Imaging = Literal["auto", "3d", "2d", "none"]
Interpolation = Literal["kriging", "linear", "inverse_distance", "nearest"]
AirHandling = Literal["mute", "report", "off"]
Placing = Literal["pegs", "track", "wheel", "marks", "polyline", "stations"]
Handling = Literal["apply", "report", "off"]
"""What is done about a fault that the data show: put it right, only say so, or do not look for it."""


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
class Tie:
    """Something of known depth: probed, dug or read off a trench.

    Attributes
    ----------
    name : str
        As messages name it.
    x_m, y_m : float
        Local grid, metres.
    depth_m, depth_sd_m : float
        Depth of its top below the ground and one standard deviation, metres.
    time_ns : float or None
        Two-way time of its echo after time zero, where the surveyor reads it off a radargram; None: picked.
    """

    name: str
    x_m: float
    y_m: float
    depth_m: float
    depth_sd_m: float
    time_ns: float | None = None


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
    ties : tuple of Tie
        Things of known depth.
    """

    medium: str | None = None
    velocity_m_per_ns: float | None = None
    velocity_sd_m_per_ns: float | None = None
    ties: tuple[Tie, ...] = ()


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
        Local grid x, y of the antenna mid-point at the first and last peg, metres; NaN where the line is not
        placed by that peg and the site file does not give it.
    placing : "pegs", "track", "wheel", "marks", "polyline" or "stations"
        What places the traces.
    toward_m : (float, float) or None
        Any point of a straight line ahead of its start, where only its direction is known.
    length_m : float or None
        Taped length of a line placed by its wheel, metres.
    nominal_spacing_m : float or None
        What the recorder took for one trigger of the wheel, metres.
    polyline_m : tuple of (x, y)
        Vertices of a profile along a polyline.
    marks : tuple of (trace, x, y)
        Traces (1 is the first) at known places.
    marks_m : tuple of (trace, metres)
        Traces at known distances from the start.
    mark_traces : tuple of int
        Traces at which marks were set, every `mark_every_m`; some may be missing or double.
    mark_every_m : float or None
        Distance from mark to mark, metres.
    block : int
        Number of the [[lines]] or [[swaths]] table that the line comes from; 0 for single lines.
    swath, channel : int or None
        Of an array: which pass over the ground, from 0 in the whole survey, and which channel, from 0; None: no array.
    channels : int or None
        How many channels the file holds in turn; None: one line.
    aside_m : float
        Of a channel that a track places: how far it lies to the left of the array's middle, looking ahead, metres.
    """

    name: str
    file: Path
    start_m: tuple[float, float]
    end_m: tuple[float, float]
    placing: Placing = "pegs"
    toward_m: tuple[float, float] | None = None
    length_m: float | None = None
    nominal_spacing_m: float | None = None
    polyline_m: tuple[tuple[float, float], ...] = ()
    marks: tuple[tuple[float, float, float], ...] = ()
    marks_m: tuple[tuple[float, float], ...] = ()
    mark_traces: tuple[int, ...] = ()
    mark_every_m: float | None = None
    block: int = 0
    swath: int | None = None
    channel: int | None = None
    channels: int | None = None
    aside_m: float = 0.0


@dataclass(frozen=True, slots=True)
class TrackPlan:
    """The track of fixes that lines with positions = "track" are placed by.

    Attributes
    ----------
    file : Path
        The track, absolute.
    format : "auto", "nmea", "gpx" or "text"
        "auto" goes by what the file holds.
    columns : dict of str to str or int
        For delimited text: from meaning to heading or number of the column.
    frame : "local" or "map"
        For delimited text: what columns called x and y hold.
    sd_m : float or None
        Deviation of a fix whose file states neither deviation nor quality, metres.
    time_offset_s : float or None
        Added to trace times to have the receiver's time; None: found from the walking.
    latency_s : float or None
        How late fixes are stamped, seconds; None: found from opposed and crossing passes.
    lever_arm_m : (float, float, float)
        From the radar's antenna mid-point to the receiver's antenna: ahead, left, up, metres.
    gap_max_s : float
        Gaps between fixes up to this are bridged, seconds.
    min_quality : "fixed", "float", "differential" or "any"
        Fixes below it are not used.
    """

    file: Path
    format: Literal["auto", "nmea", "gpx", "text"] = "auto"
    columns: dict[str, str | int] = field(default_factory=dict)
    frame: Literal["local", "map"] = "local"
    sd_m: float | None = None
    time_offset_s: float | None = 0.0
    latency_s: float | None = 0.0
    lever_arm_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    gap_max_s: float = 5.0
    min_quality: Literal["fixed", "float", "differential", "any"] = "float"


@dataclass(frozen=True, slots=True)
class StationsPlan:
    """The surveyed points that lines with positions = "stations" are placed by.

    Attributes
    ----------
    file : Path
        Delimited text, absolute.
    columns : dict of str to str or int
        From meaning to heading or number of the column.
    frame : "local" or "map"
        What columns called x and y hold.
    """

    file: Path
    columns: dict[str, str | int] = field(default_factory=dict)
    frame: Literal["local", "map"] = "local"


@dataclass(frozen=True, slots=True)
class TerrainPlan:
    """Where ground heights come from: surveyed points or a raster, one of the two.

    Attributes
    ----------
    points : Path or None
        Delimited text, absolute.
    columns : dict of str to str or int
        From meaning to heading or number of the column.
    frame : "local" or "map"
        What columns called x and y hold.
    dem : Path or None
        A raster of heights in the site's crs, absolute.
    slices : "ground" or "level"
        Depth slices follow the ground, or lie at one elevation each.
    """

    points: Path | None = None
    columns: dict[str, str | int] = field(default_factory=dict)
    frame: Literal["local", "map"] = "local"
    dem: Path | None = None
    slices: Literal["ground", "level"] = "ground"


@dataclass(frozen=True, slots=True)
class Processing:
    """How the data are treated; None means chosen from the data or the geometry, and said in run.json.

    Attributes
    ----------
    sample_interval_ns : float or None
        Overrules what the line files say.
    recipe : Steps
        The conditioning steps; the three keys that follow overrule it.
    band_mhz : (float, float) or None
        Corners of the band-pass, megahertz.
    dewow_ns : float or None
        Length of the dewow window, nanoseconds.
    background_m : float or None
        Length of the moving background window along the line, metres; 0 turns it off.
    imaging : "auto", "3d", "2d" or "none"
        How echoes are brought to their place.
    interpolation : "kriging", "linear", "inverse_distance" or "nearest"
        How values between the lines are found.
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
    stake_every_m : float
        Distance between regular points of stakeout.csv, metres.
    air_echoes : "mute", "report" or "off"
        What is done about echoes of things above the ground.
    """

    sample_interval_ns: float | None = None
    recipe: Steps = GENERAL
    band_mhz: tuple[float, float] | None = None
    dewow_ns: float | None = None
    background_m: float | None = None
    imaging: Imaging = "auto"
    interpolation: Interpolation = "kriging"
    cell_m: float | None = None
    blank_m: float | None = None
    depth_max_m: float | None = None
    slice_thickness_m: float | None = None
    slice_overlap: float = 0.5
    stake_every_m: float = 5.0
    air_echoes: AirHandling = "mute"


@dataclass(frozen=True, slots=True)
class Corrections:
    """What is done about faults of position; files are exchanged or turned only where a person says so.

    Attributes
    ----------
    wheel : "apply", "report" or "off"
        Scale of the wheel of lines that are placed by it alone.
    stagger : "apply", "report" or "off"
        Zig-zag stagger between walking directions, where it stands out.
    reversed, swapped, duplicate : "apply", "report" or "off"
        Lines stored from end to start, exchanged, or there twice.
    along : "apply", "report" or "off"
        Lines started late, stopped early or shifted along.
    displaced : "apply", "report" or "off"
        Lines walked beside their label.
    level : "apply", "report" or "off"
        Time zero and amplitude of single lines against their neighbours.
    gains : "apply", "report" or "off"
        Gains of lines, channels, swaths and blocks, which a map would show as stripes and steps.
    """

    wheel: Handling = "apply"
    stagger: Handling = "apply"
    reversed: Handling = "report"
    swapped: Handling = "report"
    duplicate: Handling = "report"
    along: Handling = "report"
    displaced: Handling = "report"
    level: Handling = "report"
    gains: Handling = "apply"


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
    wanted_depth_m : float or None
        Depth at which what is sought must be seen, metres: lines are judged by it; None: nobody said.
    processing : Processing
        Choices that overrule the defaults.
    corrections : Corrections
        What is done about faults of position.
    track : TrackPlan or None
        The track, where lines are placed by one.
    stations : StationsPlan or None
        Surveyed points on lines, where lines are placed by such.
    terrain : TerrainPlan or None
        Ground heights, where there are such.
    layouts : Layouts
        How line files without a standard header are laid out.
    report : dict of str to str
        What only the surveyor can say for the report: company, client, conditions on the day and the like.
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
    wanted_depth_m: float | None = None
    processing: Processing = field(default_factory=Processing)
    corrections: Corrections = field(default_factory=Corrections)
    track: TrackPlan | None = None
    stations: StationsPlan | None = None
    terrain: TerrainPlan | None = None
    layouts: Layouts = field(default_factory=Layouts)
    report: dict[str, str] = field(default_factory=dict)
