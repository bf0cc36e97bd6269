"""Ground-penetrating-radar lines walked over a grid, turned into a plan of what lies below.

One call a verb of the command line: `map`, `demo`, `new`, `info`, `lines`, `plan_grid`, `check_site`, `watch`,
`report`, `handover`. Each imports what it needs when called.

Rooms, in the order in which data passes them: `errors`, `files`, `model`, `read` and `site`, `place`, `condition`,
`image`, `velocity`, `volume`, `slices`, `plan`, `deliver`, `pipeline`, `cli`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from gridmap._version import VERSION as __version__

if TYPE_CHECKING:
    from gridmap.check.score import Score
    from gridmap.pipeline.check_site import CheckResult
    from gridmap.pipeline.lines import LinesResult
    from gridmap.pipeline.map_site import MapResult
    from gridmap.pipeline.watch import Row, Tell
    from gridmap.plan.survey import Plan
    from gridmap.read.line_info import LineInfo

__all__ = [
    "__version__",
    "check_site",
    "demo",
    "handover",
    "info",
    "lines",
    "map",
    "new",
    "plan_grid",
    "report",
    "report_template",
    "score",
    "view",
    "watch",
]


def _quiet(stage: str, share: float) -> None:
    """Show nothing."""


def map(  # noqa: A001 - the verb of the command
    site_file: Path | str,
    out: Path | str,
    *,
    data: Path | str | None = None,
    replace_old: bool = False,
    edits: Path | str | None = None,
    progress: Callable[[str, float], None] = _quiet,
    work: Path | str | None = None,
    keep_work: bool = False,
    memory: str | None = None,
    scheduler: str | None = None,
) -> MapResult:
    """Map a survey.

    Parameters
    ----------
    site_file : path
        The site file (TOML).
    out : path
        Output folder; must not exist or be empty, unless `replace_old` and it holds an earlier map.
    data : path or None
        Folder of the line files, when not beside the site file.
    replace_old : bool
        Whether an earlier map in `out` may be replaced; what a person did to its features.gpkg is kept.
    edits : path or None
        Another GeoPackage with what a person drew or said of features.
    progress : callable
        Called with the stage in words and the share of the job done, 0 to 1; of a job that goes on, of what was left.
    work : path or None
        Folder for what is made on the way, from which a job that was stopped goes on; None: OUT.work beside `out`.
    keep_work : bool
        Whether that folder stays when the job is done.
    memory : str or None
        Most that the job may take, such as "2GiB"; None: most of what the machine or the container has.
    scheduler : str or None
        Address of a dask.distributed scheduler whose workers share the making of a large volume; None: this process.

    Returns
    -------
    MapResult
        What was made and found, with warnings.

    Raises
    ------
    gridmap.errors.InputError
        If anything in the user's files is wrong; nothing is written then.
    """
    from gridmap.pipeline.compile_ahead import compiled_ahead
    from gridmap.pipeline.map_site import map_site
    from gridmap.pipeline.memory import parse_size
    from gridmap.site.load import load_site

    site = load_site(Path(site_file), data=None if data is None else Path(data))
    said = None if edits is None else Path(edits)
    with compiled_ahead():
        return map_site(
            site, Path(out), replace_old=replace_old, edits=said, progress=progress,
            work_in=None if work is None else Path(work), keep_work=keep_work,
            memory=None if memory is None else parse_size(memory), scheduler=scheduler,
        )  # fmt: skip


def demo(
    out: Path | str, *, replace_old: bool = False, progress: Callable[[str, float], None] = _quiet
) -> MapResult:
    """Map the invented survey that comes with the package; arguments and result as `map`."""
    site_file = Path(__file__).parent / "demo_data" / "site.toml"
    return map(site_file, out, replace_old=replace_old, progress=progress)


def info(files: Iterable[Path | str]) -> tuple[list[LineInfo], list[str]]:
    """Describe line files.

    Parameters
    ----------
    files : iterable of path
        Line files of any format that gridmap reads.

    Returns
    -------
    known : list of LineInfo
        What each readable file holds.
    refused : list of str
        One message for each file that cannot be read.
    """
    from gridmap.errors import ReadError
    from gridmap.read.info import describe

    known, refused = [], []
    for file in files:
        try:
            known.append(describe(Path(file)))
        except ReadError as problem:
            refused.append(str(problem))
    return known, refused


def new(folder: Path | str, out: Path | str | None = None) -> tuple[Path, list[str]]:
    """Write a commented site file for a folder of line files.

    Parameters
    ----------
    folder : path
        Where the line files lie.
    out : path or None
        The site file to write; None: site.toml in `folder`. An existing file is never replaced.

    Returns
    -------
    path : Path
        The file written.
    todo : list of str
        What only the surveyor can fill in.

    Raises
    ------
    gridmap.errors.InputError
        If the folder holds no line file, or the site file exists already.
    """
    from gridmap.pipeline.new_site import new_site_file

    return new_site_file(Path(folder), None if out is None else Path(out))


def lines(
    site_file: Path | str,
    picture: Path | str | None = None,
    *,
    data: Path | str | None = None,
    progress: Callable[[str, float], None] = _quiet,
) -> LinesResult:
    """Describe every line of a survey and look for faults of position.

    Parameters
    ----------
    site_file : path
        The site file (TOML).
    picture : path or None
        PNG file for a plan of all lines.
    data : path or None
        Folder of the line files, when not beside the site file.
    progress : callable
        Called with the stage in words and the share of the job done, 0 to 1.

    Returns
    -------
    LinesResult
        A row a line, every finding with size and evidence, notes and warnings.

    Raises
    ------
    gridmap.errors.InputError
        If anything in the user's files is wrong.
    """
    from gridmap.pipeline.lines import survey_lines
    from gridmap.site.load import load_site

    site = load_site(Path(site_file), data=None if data is None else Path(data))
    return survey_lines(site, None if picture is None else Path(picture), progress=progress)


def check_site(
    what: Path | str,
    *,
    data: Path | str | None = None,
    depth_m: float | None = None,
    frequency_mhz: float | None = None,
    out: Path | str | None = None,
    replace_old: bool = False,
    progress: Callable[[str, float], None] = _quiet,
) -> CheckResult:
    """Judge the lines of a survey before leaving the site.

    Parameters
    ----------
    what : path
        A site file, or a folder of line files.
    data : path or None
        Folder of the line files, when not beside the site file.
    depth_m : float or None
        Depth that is wanted, metres; None: the site file's.
    frequency_mhz : float or None
        Of the antenna, for a folder without a site file.
    out : path or None
        Folder for the page, the verdict and the list to print, and the figures; None: nothing is written.
    replace_old : bool
        Whether an earlier check in `out` may be replaced.
    progress : callable
        Called with the stage in words and the share of the job done, 0 to 1.

    Returns
    -------
    CheckResult
        The verdict: complete or walk again, and every finding with line, stretch, size and what to do.

    Raises
    ------
    gridmap.errors.InputError
        If the site file is wrong, or no line can be read.
    """
    from gridmap.pipeline.check_site import check_site as run

    return run(
        Path(what), data=None if data is None else Path(data), depth_m=depth_m, frequency_mhz=frequency_mhz,
        out=None if out is None else Path(out), replace_old=replace_old, progress=progress,
    )  # fmt: skip


def watch(
    folder: Path | str,
    tell: Tell,
    *,
    site_file: Path | str | None = None,
    frequency_mhz: float | None = None,
    once: bool = False,
    every_s: float = 1.0,
) -> list[Row]:
    """Judge each line file as it arrives in a folder, until Ctrl-C.

    Parameters
    ----------
    folder : path
        The folder that the recorder exports to.
    tell : callable
        Called with a file's name and its verdict, or what happened to it.
    site_file : path or None
        The site file; None: lines are judged by themselves.
    frequency_mhz : float or None
        Of the antenna, without a site file; None: told from the first line.
    once : bool
        Stop when every file that is there has a verdict, or is told of.
    every_s : float
        Seconds from one look at the folder to the next.

    Returns
    -------
    list of Row
        Every line and every file that was not judged.

    Raises
    ------
    gridmap.errors.InputError
        If the folder or the site file is not there.
    """
    from gridmap.pipeline.watch import watch_folder
    from gridmap.pipeline.watch_judge import make_judge

    where, site = Path(folder), None if site_file is None else Path(site_file)
    judge = make_judge(where, site, frequency_mhz)
    return watch_folder(where, judge, tell, once=once, every_s=every_s)


def plan_grid(
    request: Path | str | None = None,
    out: Path | str | None = None,
    *,
    options: Mapping[str, object] | None = None,
) -> Plan:
    """Plan a survey before walking it.

    Parameters
    ----------
    request : path or None
        The request file (TOML); None: all is in `options`.
    out : path or None
        Folder for field sheet, site file, stakes and figures; must not exist or be empty. None: nothing is written.
    options : mapping or None
        Tables as the request file has them, such as {"sought": {"depth_m": 2.0}}; they overrule the file.

    Returns
    -------
    Plan
        Whether the target can be seen, antenna, figures with formula and source, and lines.

    Raises
    ------
    gridmap.errors.InputError
        If what is asked cannot be; nothing is written then.
    """
    from gridmap.pipeline.plan_site import plan_site

    return plan_site(
        None if request is None else Path(request), None if out is None else Path(out), options=options
    )


def report(out: Path | str, *, template: Path | str | None = None, date: str | None = None) -> list[Path]:
    """Write the report of a finished map: report.pdf, report.html and the data appendix report/.

    Parameters
    ----------
    out : path
        Output folder of a finished map; its features.gpkg may have been edited.
    template : path or None
        Folder of the user's words, layout, logo, figures and fonts; see `report_template`.
    date : str or None
        Date of the report, year-month-day; None: what template or site file state, else none.

    Returns
    -------
    list of Path
        The files written, report.pdf first.

    Raises
    ------
    gridmap.errors.InputError
        If the folder is no finished map, or something in the template cannot be used.
    """
    from gridmap.pipeline.report_site import report_site

    return report_site(Path(out), template=None if template is None else Path(template), day=date)


def handover(
    out: Path | str,
    folder: Path | str,
    *,
    packed: bool = False,
    template: Path | str | None = None,
    date: str | None = None,
) -> tuple[list[Path], list[str]]:
    """Put what a GIS or CAD office needs of a finished map into one folder.

    Parameters
    ----------
    out : path
        Output folder of a finished map; its features.gpkg may have been edited.
    folder : path
        Folder to make; must not exist or be empty, and not lie within `out`.
    packed : bool
        Whether to pack it as a ZIP file beside it too.
    template : path or None
        The report's template, for company, contact and date.
    date : str or None
        Date for the metadata, year-month-day.

    Returns
    -------
    written : list of Path
        The folder, and the ZIP file where asked for.
    notes : list of str
        What is left out, and why.

    Raises
    ------
    gridmap.errors.InputError
        If `out` is no finished map, or `folder` cannot be used.
    """
    from gridmap.pipeline.handover_site import handover_site

    own = None if template is None else Path(template)
    return handover_site(Path(out), Path(folder), packed=packed, template=own, day=date)


def report_template(folder: Path | str) -> None:
    """Write gridmap's own report template into a new folder, to be edited.

    Raises
    ------
    gridmap.errors.InputError
        If the folder exists.
    """
    from gridmap.deliver.report_folder import write_template

    write_template(Path(folder))


def score(out: Path | str, truth: Path | str, *, near_m: float = 0.15) -> Score:
    """Compare a map with known ground.

    Parameters
    ----------
    out : path
        Output folder of a finished map.
    truth : path
        GeoPackage with layers `linear` and `outlines`, as far as known; field `depth_top_m`.
    near_m : float
        A line found this close to a known one has found it, metres.

    Returns
    -------
    Score
        Recall, precision, lateral error, depth error and overlap of outlines.

    Raises
    ------
    gridmap.errors.InputError
        If a file cannot be read, or the two do not lie in one frame.
    """
    from gridmap.pipeline.score_map import score_map

    return score_map(Path(out), Path(truth), near_m)


def view(
    out: Path | str,
    *,
    picture: Path | str | None = None,
    turntable: Path | str | None = None,
    at_m: float | None = None,
) -> list[Path]:
    """Show the 3D scene of a finished map: in a window that waits until it is closed, or drawn without one.

    Parameters
    ----------
    out : path
        Output folder of a finished map.
    picture : path or None
        PNG file to draw; no window then.
    turntable : path or None
        File to draw from all sides: .gif, .png (animated), or .mp4 where imageio-ffmpeg is there; no window then.
    at_m : float or None
        Depth of the slice shown first, metres; None: the deepest.

    Returns
    -------
    list of Path
        What was drawn.

    Raises
    ------
    gridmap.errors.InputError
        If the folder is no finished map, a file cannot be drawn, or there is no display for a window.
    """
    from gridmap.pipeline.view_site import view_site

    return view_site(
        Path(out),
        picture=None if picture is None else Path(picture),
        turntable=None if turntable is None else Path(turntable),
        at_m=at_m,
    )
