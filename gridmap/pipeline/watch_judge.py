"""Judge one file that has arrived: by the site file where it names the file, else by what the line shows by itself."""

from __future__ import annotations

from pathlib import Path

from gridmap.check.finding import worst_first
from gridmap.check.line import check_line
from gridmap.check.tracks import find_unsure_places
from gridmap.errors import PlaceError, ReadError, SiteError
from gridmap.model import Line
from gridmap.pipeline.bare_folder import bare_plan, frequency_of
from gridmap.pipeline.check_setup import MEASURED, setup_of
from gridmap.pipeline.check_site import lines_there
from gridmap.pipeline.frame import map_frame
from gridmap.pipeline.read_lines import shared_places
from gridmap.pipeline.run import Run, quiet
from gridmap.pipeline.watch import Judge, Judged, unreadable
from gridmap.place.dispatch import Survey, place_line
from gridmap.read.sniff import read_line
from gridmap.site.load import load_site, parse_toml, read_toml_text
from gridmap.site.records import Antenna, LinePlan, Site


def make_judge(folder: Path, site_file: Path | None = None, frequency_mhz: float | None = None) -> Judge:
    """Make what judges each file of a folder.

    Parameters
    ----------
    folder : Path
        Where files arrive.
    site_file : Path or None
        The site file. Its data files lie below its own folder where `folder` does, else below `folder`.
    frequency_mhz : float or None
        Of the antenna, where there is no site file; None: told from the first line that arrives.

    Returns
    -------
    callable
        Takes the path and the name below the folder; a file that is no line raises ReadError.

    Raises
    ------
    SiteError
        If the site file is not there or is not TOML. What else is wrong with it is told with each line, since a site
        file that names lines by a pattern is wrong until the first of them is there.
    """
    if site_file is None:
        return _BareJudge(frequency_mhz)
    parse_toml(site_file.name, read_toml_text(site_file))
    below = folder.absolute().is_relative_to(site_file.absolute().parent)
    return _SiteJudge(site_file, None if below else folder, _BareJudge(frequency_mhz))


class _BareJudge:
    """Judges a line of which nothing is known but its file."""

    def __init__(self, frequency_mhz: float | None) -> None:
        self.frequency_mhz = frequency_mhz

    def __call__(self, path: Path, name: str) -> Judged:
        line = read_line(path)
        if self.frequency_mhz is None:
            self.frequency_mhz = frequency_of([path])
        plan = bare_plan(line.name, path, 0)
        site = Site(path, "", Antenna(self.frequency_mhz, 0.0), (plan,))
        return _judged(site, plan, line, Survey(), False)


class _SiteJudge:
    """Judges a line by the site file, which is read anew each time: it may be edited, and a pattern finds new files."""

    def __init__(self, site_file: Path, data: Path | None, bare: _BareJudge) -> None:
        self.site_file, self.data, self.bare = site_file, data, bare

    def __call__(self, path: Path, name: str) -> Judged:
        try:
            site = load_site(self.site_file, data=self.data, absent_ok=True)
        except SiteError as problem:
            return self._alone(path, name, f"judged by itself: {problem}")
        plan = next((plan for plan in site.lines if plan.file == path.absolute()), None)
        if plan is None:
            return self._alone(path, name, "judged by itself: the site file does not name it")
        interval_ns = site.processing.sample_interval_ns
        try:
            line = read_line(path, name=plan.name, sample_interval_ns=interval_ns, layouts=site.layouts)
            run = Run(quiet, ())
            places = shared_places(lines_there(site), map_frame(site, run), run)
            return _judged(site, plan, line, places, True)
        except ReadError as problem:
            return unreadable(path, problem, must_be_line=True)
        except PlaceError as problem:
            return self._alone(path, name, f"judged by itself: {problem}")

    def _alone(self, path: Path, name: str, why: str) -> Judged:
        judged = self.bare(path, name)
        return Judged(f"{judged.facts}; {why}", judged.findings, judged.placed)


def _judged(site: Site, plan: LinePlan, line: Line, places: Survey, placed: bool) -> Judged:
    """Place the line and judge it."""
    setup = setup_of(site, placed)
    here = place_line(line, plan, places)
    check = check_line(here.line, setup, tracked=placed and plan.placing in MEASURED)
    found = worst_first((*check.findings, *(find_unsure_places(here, setup) if placed else ())))
    count, samples = line.traces.shape
    length = f"{float(here.line.along_m[-1]):.1f} m, " if placed else ""
    facts = f"{count} traces, {length}{samples * line.sample_interval_ns:.0f} ns"
    return Judged(facts, found, placed)
