"""From a site file, or a bare folder of lines, to a verdict: the job behind `gridmap check`."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from gridmap.check.air import finding_above_ground
from gridmap.check.finding import Finding, Verdict
from gridmap.check.line import LineCheck, check_line
from gridmap.check.reach import find_reach, survey_reach
from gridmap.check.setup import Setup
from gridmap.check.stretch import whole_line
from gridmap.check.survey import check_survey
from gridmap.check.tracks import find_unsure_places
from gridmap.condition.air_echo import find_air_echoes
from gridmap.condition.recipe import Conditioned, Recipe, choose_recipe, finish_lines, prepare_line
from gridmap.deliver.check_folder import write_check
from gridmap.deliver.check_page import CheckPage
from gridmap.deliver.check_radargram import Radargrams
from gridmap.deliver.outfolder import refuse_folder
from gridmap.errors import InputError, PlaceError, ReadError
from gridmap.model import IDENTITY, CleanLine, Float64, PlacedLine, Similarity
from gridmap.pipeline.air_echoes import air_echo_words
from gridmap.pipeline.bare_folder import bare_site
from gridmap.pipeline.check_setup import MEASURED, setup_of
from gridmap.pipeline.frame import map_frame
from gridmap.pipeline.read_lines import shared_places
from gridmap.pipeline.read_planned import read_planned
from gridmap.pipeline.run import Progress, Run, quiet
from gridmap.pipeline.wheels import put_wheels_right
from gridmap.place.corrections import Corrections, estimate_corrections
from gridmap.place.dispatch import Placed, place_line
from gridmap.place.dispatch import Survey as Places
from gridmap.site.load import load_site
from gridmap.site.records import LinePlan, Site
from gridmap.threads import THREADS

STAGES = (("reading and judging lines", 0.55), ("comparing lines", 0.30), ("looking above the ground", 0.15))
"""Stages of `check_site` and the share of its time that each usually takes."""
_FEWEST = 3
"""Usable traces below which a line is judged by itself alone."""


@dataclass(frozen=True, slots=True)
class CheckResult:
    """What `gridmap check` shows.

    Attributes
    ----------
    verdict : Verdict
        Findings worst first, and the lines in plan.
    site : Site
        As loaded, or made up from a bare folder.
    setup : Setup
        What the lines were judged by.
    notes : tuple of str
        What was assumed.
    """

    verdict: Verdict
    site: Site
    setup: Setup
    notes: tuple[str, ...]


def check_site(
    what: Path,
    *,
    data: Path | None = None,
    depth_m: float | None = None,
    frequency_mhz: float | None = None,
    out: Path | None = None,
    replace_old: bool = False,
    progress: Progress = quiet,
) -> CheckResult:
    """Judge the lines of a survey.

    Parameters
    ----------
    what : Path
        A site file; or a folder, in which a lone site file is used, else every line file.
    data : Path or None
        Folder of the line files, where they do not lie beside the site file.
    depth_m : float or None
        Wanted depth, metres; None: the site file's.
    frequency_mhz : float or None
        Of the antenna, for a bare folder; None: told from the lines.
    out : Path or None
        Folder for the page, the papers and the figures, see `gridmap.deliver.check_folder`; None: nothing is written.
    replace_old : bool
        Whether an earlier check in `out` may be replaced.
    progress : callable
        Called with the stage in words and the share done.

    Returns
    -------
    CheckResult
        Files that are missing or cannot be read are findings, not errors.

    Raises
    ------
    InputError
        If the site file is wrong, or no line can be read.
    """
    if out is not None:
        refuse_folder(out, replace_old, "check")
    bare = bare_site(what, frequency_mhz)
    site = bare.site if bare is not None else load_site(_site_file(what), data=data, absent_ok=True)
    run = Run(progress, STAGES)
    frame = None if bare is not None else map_frame(site, run)
    places = Places() if frame is None else shared_places(lines_there(site), frame, run)
    setup = setup_of(site, bare is None, depth_m)
    shown = None if out is None else Radargrams(len(site.lines), setup.period_ns)
    known: list[Finding] = []
    with run.stage(0) as tick:
        checks, clean, recipe = _read_and_judge(site, places, setup, bare is not None, known, tick, shown)
    found = None
    words = list(bare.unknown) if bare is not None else []
    if recipe is not None and setup.placed and clean:
        with run.stage(1):
            signal, lines, found = _compare(site, clean, recipe, run)
        with run.stage(2):
            known += _above_ground(site, lines, recipe, frame.transform if frame else IDENTITY)
            reach = survey_reach(signal, lines, recipe, setup)
            known += find_reach(reach, setup)
            words += _reach_words(reach)
    verdict = check_survey(
        site.name,
        checks,
        setup,
        known,
        places=found,
        size_m=site.size_m,
        words=words,
        absent=_absent(site, checks),
    )
    if out is not None and shown is not None:
        page = CheckPage(verdict, shown.packed, setup.velocity_m_per_ns, setup.velocity_known)
        write_check(out, page, replace_old=replace_old)
    progress("done", 1.0)
    return CheckResult(verdict, site, setup, tuple(run.notes))


def _site_file(what: Path) -> Path:
    return next(iter(sorted(what.glob("*.toml")))) if what.is_dir() else what


def lines_there(site: Site) -> Site:
    """Leave lines out whose files are not there."""
    return replace(site, lines=tuple(plan for plan in site.lines if plan.file.is_file()))


def _absent(site: Site, checks: list[LineCheck]) -> dict[str, Float64]:
    """Planned ends of lines that could not be read."""
    read = {check.name for check in checks}
    ends = {plan.name: np.array([plan.start_m, plan.end_m]) for plan in site.lines if plan.name not in read}
    return {name: both for name, both in ends.items() if np.isfinite(both).all()}


def _read_and_judge(
    site: Site,
    places: Places,
    setup: Setup,
    bare: bool,
    known: list[Finding],
    tick: Callable[[float], None],
    shown: Radargrams | None,
) -> tuple[list[LineCheck], list[CleanLine], Recipe | None]:
    """Read, place, judge and condition line by line; the raw traces of a few lines only are held at a time."""
    recipe: Recipe | None = None
    waiting: list[Future[tuple[LineCheck, CleanLine | None]]] = []
    with ThreadPoolExecutor(THREADS) as pool:
        for i, plan in enumerate(site.lines):
            here = _placed(site, plan, places, known)
            tick((i + 1) / len(site.lines))
            if here is None:
                continue
            line = here.line.line
            if recipe is None and len(line.traces) > 2:
                wish = site.processing
                recipe = choose_recipe(
                    site.antenna.frequency_mhz, site.antenna.separation_m, line.sample_interval_ns,
                    height_m=site.antenna.height_m, steps=wish.recipe, band_mhz=wish.band_mhz,
                    dewow_ns=wish.dewow_ns, background_m=wish.background_m, example=line.traces,
                )  # fmt: skip
            known += find_unsure_places(here, setup)
            measured = plan.placing in MEASURED and not bare
            waiting.append(pool.submit(_judge, here.line, setup, recipe, measured, shown))
            if len(waiting) > THREADS:
                waiting[len(waiting) - 1 - THREADS].result()
    if not waiting:
        first = f" The first: {known[0].words}." if known else ""
        raise InputError(f"{site.name}: no line file can be read.{first}")
    done = [future.result() for future in waiting]
    clean = [c for _, c in done if c is not None]
    return [check for check, _ in done], clean, recipe


def _judge(
    placed: PlacedLine, setup: Setup, recipe: Recipe | None, tracked: bool, shown: Radargrams | None
) -> tuple[LineCheck, CleanLine | None]:
    check = check_line(placed, setup, tracked=tracked)
    if shown is not None:
        shown.add(placed, check)
    clean = None
    if recipe is not None and len(placed.line.traces) > 2 and setup.placed:
        clean = prepare_line(placed, recipe)
        clean.traces[check.bad] = 0.0
        clean = replace(clean, usable=clean.usable & ~check.bad)
        if clean.usable.sum() < _FEWEST:
            clean = None  # nothing to compare with others
    return check, clean


def _placed(site: Site, plan: LinePlan, places: Places, known: list[Finding]) -> Placed | None:
    """Read and place a line; what is wrong with its file becomes a finding."""
    if not plan.file.is_file():
        known.append(
            whole_line(
                plan.name, "missing", "walk again", (), f"there is no file {plan.file.name}",
                "Copy it from the recorder; where it was not walked, walk it, or take it out of the site file.",
            )
        )  # fmt: skip
        return None
    try:
        return place_line(read_planned(site, plan), plan, places)
    except ReadError as problem:
        words = " ".join(str(problem).split())
        known.append(
            whole_line(
                plan.name, "unreadable", "walk again", (), words,
                "Copy it from the recorder again; where that fails, walk it again.",
            )
        )  # fmt: skip
    except PlaceError as problem:
        words = " ".join(str(problem).split())
        known.append(
            whole_line(plan.name, "position", "walk again", (), words, "Correct the site file first.")
        )
    return None


def _above_ground(site: Site, lines: list[CleanLine], recipe: Recipe, transform: Similarity) -> list[Finding]:
    handling = site.processing.air_echoes
    if handling == "off":
        return []
    echoes = find_air_echoes(lines, recipe.interval_ns, site.antenna.separation_m, recipe.period_ns)
    return [
        finding_above_ground(echo, air_echo_words(echo, lines, transform), handling == "mute")
        for echo in echoes
    ]


def _reach_words(reach: tuple[float, float, float]) -> list[str]:
    usual, _, end = reach
    if not np.isfinite(usual):
        return ["the reach in this ground cannot be told from these lines"]
    if usual >= 0.98 * end:
        return [f"a clear echo would be seen to the end of the record, {end:.2f} m, and perhaps below"]
    return [
        f"a clear echo would be seen to {usual:.2f} m in this ground; below that an empty map says nothing"
    ]


def _compare(
    site: Site, clean: list[CleanLine], recipe: Recipe, run: Run
) -> tuple[Conditioned, list[CleanLine], Corrections]:
    """Condition together and look for faults of place, without putting more right than wheels."""
    signal = finish_lines(clean, recipe)
    lines, wheels = put_wheels_right(site, list(signal.lines), recipe.interval_ns, run)
    found = estimate_corrections(lines, recipe.interval_ns, site.corrections)
    run.notes += found.notes
    return signal, lines, replace(found, findings=(*wheels, *found.findings))
