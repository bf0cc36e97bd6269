"""Lines from files to conditioned records, and what is wrong with their places put right."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace

import numpy as np

from gridmap.condition.recipe import Recipe, choose_recipe, prepare_line
from gridmap.errors import InputError
from gridmap.model import CleanLine, HeightRaster, Line, PlacedLine, Points
from gridmap.pipeline.frame import Frame
from gridmap.pipeline.judged import Judged
from gridmap.pipeline.line_store import LineStore, Prepared
from gridmap.pipeline.read_planned import read_planned
from gridmap.pipeline.run import Run
from gridmap.pipeline.wheels import put_wheels_right
from gridmap.place.corrections import Corrections, apply_corrections, estimate_corrections
from gridmap.place.dispatch import Placed, Survey, place_line, prepare_survey
from gridmap.place.latency import estimate_latency, walking_speeds, with_latency
from gridmap.place.tape import outside_grid
from gridmap.read.points import read_points
from gridmap.read.stations import read_stations
from gridmap.read.terrain import read_height_raster
from gridmap.read.track import read_track
from gridmap.site.records import LinePlan, Site
from gridmap.threads import THREADS


def shared_places(site: Site, frame: Frame, run: Run) -> Survey:
    """Read what all lines are placed by: the track and the ground heights, where the site file names such."""
    track = None
    ground: Points | HeightRaster | None = None
    clock_lines: list[Line] = []
    if site.track is not None:
        track = read_track(site.track.file, site.track.format, site.track.columns, site.track.frame)
        if site.track.time_offset_s is None:
            by_track = [plan for plan in site.lines if plan.placing == "track"]
            clock_lines = [without_samples(read_planned(site, plan)) for plan in by_track]
    stations = None
    if site.stations is not None:
        stations = read_stations(site.stations.file, site.stations.columns, xy_frame=site.stations.frame)
        run.notes += [f"{stations.source}: {note}" for note in stations.notes]
    if site.terrain is not None:
        terrain = site.terrain
        if terrain.dem is not None:
            ground = read_height_raster(terrain.dem)
        elif terrain.points is not None:
            ground = read_points(terrain.points, terrain.columns, xy_frame=terrain.frame)
    survey = prepare_survey(
        site,
        frame.transform,
        frame.crs_wkt,
        track=track,
        stations=stations,
        ground=ground,
        clock_lines=clock_lines,
    )
    run.notes += survey.notes
    run.warnings += survey.warnings
    return survey


def placed_lines(site: Site, survey: Survey) -> Iterator[Placed]:
    """Read and place the lines of a survey one by one; the traces of one line only are held at a time."""
    for plan in site.lines:
        yield place_line(read_planned(site, plan), plan, survey)


def without_samples(line: Line) -> Line:
    """Drop the samples and keep all else, so that the survey is not held twice."""
    return replace(line, traces=np.empty((0, line.traces.shape[1]), np.float32))


def read_lines(
    site: Site,
    survey: Survey,
    run: Run,
    tick: Callable[[float], None],
    store: LineStore | None = None,
    judged: Judged | None = None,
) -> tuple[list[PlacedLine], list[CleanLine], Recipe]:
    """Read, place and prepare line by line; the raw traces of a few lines only are held at a time.

    Parameters
    ----------
    site, survey, run, tick
        What is read, what lines are placed by, where messages go, what is told the share done.
    store : LineStore or None
        Where prepared lines are kept, and found again; None: in memory.
    judged : Judged or None
        Judges the lines and leaves out what was walked twice; None: nobody does.

    Returns
    -------
    placed : list of PlacedLine
        Without samples.
    clean : list of CleanLine
        As `prepare_line` left them.
    recipe : Recipe
        As used.
    """
    recipe = store.recipe(site.lines[0]) if store else None
    ready: list[Prepared | Future[Prepared]] = []
    first: Line | None = None
    with ThreadPoolExecutor(THREADS) as pool:
        for i, plan in enumerate(site.lines):
            found = store.look(plan, recipe) if store and recipe else None
            if found is not None:
                ready.append(found)
                run.was_kept(1 / len(site.lines))
                first = first or found.placed.line
            else:
                known = place_line(read_planned(site, plan), plan, survey)
                if first is not None:
                    _refuse_other_interval(known.line.line, first)
                if recipe is None:
                    recipe = _recipe(site, known.line.line)
                    if store:
                        store.keep_recipe(plan, recipe)
                ready.append(pool.submit(_prepare, known, plan, recipe, store, judged))
                first = first or without_samples(known.line.line)
                if i >= THREADS:  # No more raw lines are held than are worked on.
                    _got(ready[i - THREADS])
            tick((i + 1) / len(site.lines))
        assert recipe is not None
        prepared = [_got(one) for one in ready]
    _tell_lines(site, prepared, run)
    if judged is not None:
        judged.tell([one.check for one in prepared if one.check is not None], run)
    return [one.placed for one in prepared], [one.clean for one in prepared], recipe


def _recipe(site: Site, line: Line) -> Recipe:
    """Choose the settings by the first line."""
    wish = site.processing
    return choose_recipe(
        site.antenna.frequency_mhz, site.antenna.separation_m, line.sample_interval_ns,
        height_m=site.antenna.height_m, steps=wish.recipe, band_mhz=wish.band_mhz,
        dewow_ns=wish.dewow_ns, background_m=wish.background_m, example=line.traces,
    )  # fmt: skip


def _refuse_other_interval(line: Line, first: Line) -> None:
    if abs(line.sample_interval_ns / first.sample_interval_ns - 1) > 1e-3:
        raise InputError(
            f"line {line.name}: sample interval {line.sample_interval_ns:g} ns, but line {first.name} has "
            f"{first.sample_interval_ns:g} ns. Map lines of different settings apart."
        )


def _prepare(
    known: Placed, plan: LinePlan, recipe: Recipe, store: LineStore | None, judged: Judged | None
) -> Prepared:
    """Condition one line by itself, leave out what was walked twice, and keep it."""
    placed = replace(known.line, line=without_samples(known.line.line))
    clean = prepare_line(known.line, recipe)
    check = None if judged is None else judged.judge(known, plan)
    if judged is not None and check is not None:
        clean = judged.leave_out(clean, check)
    made = Prepared(placed, clean, known.notes, known.warnings, check)
    return made if store is None else store.keep(plan, recipe, made)


def _got(one: Prepared | Future[Prepared]) -> Prepared:
    return one if isinstance(one, Prepared) else one.result()


def _tell_lines(site: Site, prepared: Sequence[Prepared], run: Run) -> None:
    """Say what was assumed and seen line by line."""
    assumed: dict[str, list[str]] = {}
    for one in prepared:
        for note in one.placed.line.notes:
            assumed.setdefault(note, []).append(one.placed.line.name)
        run.notes += one.notes
        run.warnings += one.warnings
        if site.size_m and (outside := outside_grid(one.placed, site.size_m)) is not None:
            run.warnings.append(outside)
    _say_repairs([one.clean for one in prepared], run)
    for note, names in assumed.items():
        run.notes.append(f"{note} ({names[0]}{f' and {len(names) - 1} more' if len(names) > 1 else ''})")


def _say_repairs(clean: Sequence[CleanLine], run: Run) -> None:
    """Say which lines lost traces and where something was mended."""
    left_out = {ln.name: int((~ln.usable).sum()) for ln in clean if not ln.usable.all()}
    for line in clean:
        bad = left_out.get(line.name, 0)
        if bad > 0.1 * len(line.usable):
            run.warnings.append(
                f"line {line.name}: {bad} of {len(line.usable)} traces are dead, shaken or lifted, "
                "and left out. Walk it again."
            )
    if left_out:
        worst = sorted(left_out, key=lambda name: -left_out[name])[:3]
        run.notes.append(
            f"{sum(left_out.values())} dead or shaken traces left out on {len(left_out)} lines, most on "
            + ", ".join(f"{name} ({left_out[name]})" for name in worst)
        )
    if mended := [f"{ln.name}: {', '.join(ln.mended)}" for ln in clean if ln.mended]:
        more = f"; and {len(mended) - 3} lines more, see run.json" if len(mended) > 3 else ""
        run.notes.append(f"repaired on {'; '.join(mended[:3])}{more}")


def put_right(
    site: Site, lines: list[CleanLine], placed: list[PlacedLine], interval_ns: float, run: Run
) -> tuple[list[CleanLine], list[PlacedLine], Corrections]:
    """Look for faults of position; put right what the site file says to, report the rest as warnings.

    Parameters
    ----------
    site : Site
        Says what is done about each kind of fault.
    lines, placed : list of CleanLine, list of PlacedLine
        The same lines, conditioned and as read.
    interval_ns : float
        Sample interval of `lines`, nanoseconds.
    run : Run
        Takes the messages.

    Returns
    -------
    lines, placed : as given
        With the places corrected; copies left out.
    found : Corrections
        Every finding with its size and evidence.
    """
    if site.track is not None and site.track.latency_s is None:
        speeds = walking_speeds(placed, [plan.name for plan in site.lines if plan.placing == "track"])
        late = estimate_latency(lines, interval_ns, speeds)
        (run.notes if late.known else run.warnings).append(late.words)
        if late.known:
            lines, placed = with_latency(lines, placed, speeds, late.latency_s)
    lines, wheels = put_wheels_right(site, lines, interval_ns, run)
    found = estimate_corrections(lines, interval_ns, site.corrections)
    for finding in found.findings:
        if finding.applied:
            run.notes.append(f"put right: {finding.words}")
        else:
            run.warnings.append(f"{finding.words} (only reported; [corrections] {finding.kind} decides)")
    run.notes += found.notes
    moved = apply_corrections(lines, interval_ns, found)
    turned = {f.lines[0] for f in found.findings if f.applied and f.kind == "reversed"}
    return moved, _follow(placed, moved, turned), replace(found, findings=(*wheels, *found.findings))


def _follow(placed: Sequence[PlacedLine], moved: Sequence[CleanLine], turned: set[str]) -> list[PlacedLine]:
    """Give the lines as read the corrected places; a turned line's traces keep the order of its file."""
    by_name = {p.line.name: p for p in placed}
    out = []
    for line in moved:
        xy, along = line.xy_m, line.along_m
        if line.name in turned:
            xy, along = xy[::-1], (along[-1] - along)[::-1]
        out.append(replace(by_name[line.name], xy_m=xy, along_m=along))
    return out
