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
from gridmap.pipeline.run import Run
from gridmap.pipeline.wheels import put_wheels_right
from gridmap.place.corrections import Corrections, apply_corrections, estimate_corrections
from gridmap.place.dispatch import Placed, Survey, place_line, prepare_survey
from gridmap.place.latency import estimate_latency, walking_speeds, with_latency
from gridmap.place.tape import outside_grid
from gridmap.read.points import read_points
from gridmap.read.sniff import read_line
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
            clock_lines = [without_samples(_read(site, plan)) for plan in by_track]
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


def _read(site: Site, plan: LinePlan) -> Line:
    interval_ns = site.processing.sample_interval_ns
    return read_line(plan.file, name=plan.name, sample_interval_ns=interval_ns, layouts=site.layouts)


def placed_lines(site: Site, survey: Survey) -> Iterator[Placed]:
    """Read and place the lines of a survey one by one; the traces of one line only are held at a time."""
    for plan in site.lines:
        yield place_line(_read(site, plan), plan, survey)


def without_samples(line: Line) -> Line:
    """Drop the samples and keep all else, so that the survey is not held twice."""
    return replace(line, traces=np.empty((0, line.traces.shape[1]), np.float32))


def read_lines(
    site: Site, survey: Survey, run: Run, tick: Callable[[float], None]
) -> tuple[list[PlacedLine], list[CleanLine], Recipe]:
    """Read, place and prepare line by line; the raw traces of one line only are held at a time."""
    placed: list[PlacedLine] = []
    recipe: Recipe | None = None
    assumed: dict[str, list[str]] = {}
    with ThreadPoolExecutor(THREADS) as pool:
        waiting: list[Future[CleanLine]] = []
        for i, known in enumerate(placed_lines(site, survey)):
            here = known.line
            line = here.line
            for note in line.notes:
                assumed.setdefault(note, []).append(line.name)
            if recipe is None:
                wish = site.processing
                recipe = choose_recipe(
                    site.antenna.frequency_mhz, site.antenna.separation_m, line.sample_interval_ns,
                    height_m=site.antenna.height_m, steps=wish.recipe, band_mhz=wish.band_mhz,
                    dewow_ns=wish.dewow_ns, background_m=wish.background_m, example=line.traces,
                )  # fmt: skip
                first = line
            elif abs(line.sample_interval_ns / first.sample_interval_ns - 1) > 1e-3:
                raise InputError(
                    f"line {line.name}: sample interval {line.sample_interval_ns:g} ns, but line {first.name} has "
                    f"{first.sample_interval_ns:g} ns. Map lines of different settings apart."
                )
            run.notes += known.notes
            run.warnings += known.warnings
            if site.size_m and (outside := outside_grid(here, site.size_m)) is not None:
                run.warnings.append(outside)
            waiting.append(pool.submit(prepare_line, here, recipe))
            placed.append(replace(here, line=without_samples(line)))
            if i >= THREADS:  # No more raw lines are held than are worked on.
                waiting[i - THREADS].result()
            tick((i + 1) / len(site.lines))
    assert recipe is not None
    clean = [future.result() for future in waiting]
    _say_repairs(clean, run)
    for note, names in assumed.items():
        run.notes.append(f"{note} ({names[0]}{f' and {len(names) - 1} more' if len(names) > 1 else ''})")
    return placed, clean, recipe


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
