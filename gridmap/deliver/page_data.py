"""What the page shows: records that hold it before any of it is text."""

from __future__ import annotations

from dataclasses import dataclass

from gridmap.deliver.page_features import PageFeature
from gridmap.model import CleanLine, Float64, RasterGrid, Similarity, SliceStack, VelocityModel
from gridmap.site.records import ControlPoint


@dataclass(frozen=True, slots=True)
class PageStack:
    """One stack that the page can show.

    Attributes
    ----------
    label : str
        What the slices are, such as "Depth slices".
    stack : SliceStack
        (slice, row, column) on the page's raster.
    colour_range : (float, float)
        One scale for all of its slices.
    start : int
        The slice that is shown first.
    """

    label: str
    stack: SliceStack
    colour_range: tuple[float, float]
    start: int = 0


@dataclass(frozen=True, slots=True)
class PageLine:
    """A line walked.

    Attributes
    ----------
    name : str
        Its name; any characters.
    en_m : (k, 2) float64
        Path on the map, metres.
    along_m : (k,) float64 or None
        Distance along the line at each vertex, metres; None: measured along the path.
    """

    name: str
    en_m: Float64
    along_m: Float64 | None = None


@dataclass(frozen=True, slots=True)
class PageFile:
    """A file of the output folder: its relative path, what it is, and whether to open it first."""

    path: str
    what: str
    first: bool = False


@dataclass(frozen=True, slots=True)
class PageRadargrams:
    """The conditioned lines, for vertical sections.

    Attributes
    ----------
    lines : tuple of CleanLine
        One for each of the page's lines, in the same order.
    interval_ns : float
        Sample interval, nanoseconds.
    frequency_mhz : float
        Centre frequency of the antenna: says how closely echoes must be sampled to be drawn.
    wavelength_m : float
        In the ground, metres: says how closely traces must lie.
    separation_m : float
        Between transmitter and receiver, metres.
    limit : float
        Amplitude of full colour.
    """

    lines: tuple[CleanLine, ...]
    interval_ns: float
    frequency_mhz: float
    wavelength_m: float
    separation_m: float
    limit: float


@dataclass(frozen=True, slots=True)
class PageData:
    """All that the page shows.

    Attributes
    ----------
    site_name, description : str
        As in the site file; any characters.
    stacks : tuple of PageStack
        At least one.
    raster : RasterGrid
        Cells of all stacks.
    transform : Similarity
        Local grid to map, for co-ordinates under the pointer.
    velocity : VelocityModel
        Said in words, and what turns time into depth on the page.
    crs_name : str
        Short name of the CRS; empty for a local grid.
    lines : tuple of PageLine
        Lines walked.
    radargrams : PageRadargrams or None
        What they recorded; None: no sections along them.
    features : tuple of PageFeature
        What was found, what was not believed, and what the check says.
    control : tuple of ControlPoint
        Points known in both systems.
    grid_outline : (k, 2) float64 or None
        Corners of the grid in the map, metres.
    ground : (float, float, float, (row, column) float64) or None
        Easting and northing of the first post, step and heights of the ground, metres, NaN where not known; rows run
        north.
    summary : tuple of str
        What was found, in plain words, one sentence or paragraph each.
    warnings : tuple of str
        What needs attention.
    files : tuple of PageFile
        What is in the folder.
    """

    site_name: str
    stacks: tuple[PageStack, ...]
    raster: RasterGrid
    transform: Similarity
    velocity: VelocityModel
    description: str = ""
    crs_name: str = ""
    lines: tuple[PageLine, ...] = ()
    radargrams: PageRadargrams | None = None
    features: tuple[PageFeature, ...] = ()
    control: tuple[ControlPoint, ...] = ()
    grid_outline: Float64 | None = None
    ground: tuple[float, float, float, Float64] | None = None
    summary: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    files: tuple[PageFile, ...] = ()
