"""Place a line by whatever its plan says: pegs, track, wheel, marks or polyline; then put the ground below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.errors import OurFaultError, PlaceError
from gridmap.model import HeightRaster, Line, PlacedLine, Points, Similarity, Stations, Track
from gridmap.model.transform import IDENTITY
from gridmap.place.clock import ClockOffset, estimate_clock_offset
from gridmap.place.crs import refuse_other_crs
from gridmap.place.fiducial import match_marks, place_by_distances, place_by_marks, trigger_counts
from gridmap.place.local_track import LocalTrack, local_track
from gridmap.place.polyline import place_on_polyline
from gridmap.place.slope_distance import by_slope_distance
from gridmap.place.stations import place_by_stations
from gridmap.place.tape import place_by_pegs
from gridmap.place.terrain import Heights, heights_from_raster, surface_from_points
from gridmap.place.track import TrackReport, place_by_track
from gridmap.place.wheel import WheelReport, place_by_wheel
from gridmap.site.records import LinePlan, Site, TrackPlan

UNSURE_OFFSET_S = 0.1
"""A clock offset whose deviation is larger than this is told to be poorly known."""


@dataclass(frozen=True, slots=True)
class Survey:
    """What all lines of a site share for placing.

    Attributes
    ----------
    transform : Similarity
        Local grid to map.
    track : LocalTrack or None
        The fixes in the local grid.
    plan : TrackPlan or None
        How they are used; its clock offset is a number.
    stations : Stations or None
        Surveyed points on lines.
    ground : Points, HeightRaster or None
        Ground heights, which overrule those of the track.
    heights : Heights or None
        The same as a function of place.
    antenna_height_m : float
        Of the radar above the ground, metres.
    notes, warnings : tuple of str
        What the track and the clocks say.
    """

    transform: Similarity = IDENTITY
    track: LocalTrack | None = None
    plan: TrackPlan | None = None
    stations: Stations | None = None
    ground: Points | HeightRaster | None = None
    heights: Heights | None = None
    antenna_height_m: float = 0.0
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Placed:
    """A placed line and what is to be said of it.

    Attributes
    ----------
    line : PlacedLine
        The line.
    notes, warnings : tuple of str
        What was assumed; what a person should look at.
    track : TrackReport or None
        Where a track placed it.
    wheel : WheelReport or None
        Where its wheel placed it.
    """

    line: PlacedLine
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    track: TrackReport | None = None
    wheel: WheelReport | None = None


def prepare_survey(
    site: Site,
    transform: Similarity = IDENTITY,
    crs_wkt: str | None = None,
    *,
    track: Track | None = None,
    stations: Stations | None = None,
    ground: Points | HeightRaster | None = None,
    clock_lines: Sequence[Line] = (),
) -> Survey:
    """Bring what all lines share into the local grid.

    Parameters
    ----------
    site : Site
        The checked site file.
    transform : Similarity
        Local grid to map.
    crs_wkt : str or None
        The map's CRS.
    track : Track or None
        As read from `site.track.file`.
    stations : Stations or None
        As read from `site.stations.file`.
    ground : Points, HeightRaster or None
        As read from `site.terrain`.
    clock_lines : sequence of Line
        Lines (samples may be empty arrays of the right count of traces) that the clock offset is found from,
        where `site.track.time_offset_s` is None.

    Returns
    -------
    Survey
        Ready for `place_line`.

    Raises
    ------
    PlaceError
        If the track cannot be projected, the clock offset cannot be found, or the raster of heights lies in
        another CRS.
    """
    height_m = site.antenna.height_m
    if stations is not None and stations.frame == "map" and not site.control and site.track is None:
        raise PlaceError(
            f"{stations.source} holds places of the map, and the site has no control points. Add them, or give local x"
            " and y."
        )
    if isinstance(ground, HeightRaster) and ground.crs_wkt and crs_wkt:
        refuse_other_crs(ground.crs_wkt, crs_wkt, ground.source)
    heights = None if ground is None else _heights(ground, transform)
    if track is None or site.track is None:
        return Survey(transform, stations=stations, ground=ground, heights=heights, antenna_height_m=height_m)
    local = local_track(track, transform, crs_wkt, site.track.sd_m)
    plan = site.track
    notes = [f"track {track.source}: {note}" for note in local.notes]
    warnings: list[str] = []
    if plan.time_offset_s is None:
        found = estimate_clock_offset(clock_lines, local, latency_s=plan.latency_s or 0.0)
        plan = replace(plan, time_offset_s=found.offset_s)
        (warnings if found.sd_s > UNSURE_OFFSET_S else notes).append(_clock_words(found))
    return Survey(transform, local, plan, stations, ground, heights, height_m, tuple(notes), tuple(warnings))


def place_line(line: Line, plan: LinePlan, survey: Survey) -> Placed:
    """Place one line by its plan.

    Parameters
    ----------
    line : Line
        In the order walked.
    plan : LinePlan
        What the site file says of it.
    survey : Survey
        See `prepare_survey`.

    Returns
    -------
    Placed
        The line, and what is to be said of it.

    Raises
    ------
    PlaceError
        If it cannot be placed; names the line and the fix.
    """
    placed = _place(line, plan, survey)
    if survey.ground is None:
        return placed
    heights = ground_heights(survey)
    placed = _along_slope(placed, plan, heights)
    elevation = heights(placed.line.xy_m)
    lost = int(np.isnan(elevation).sum())
    warnings = placed.warnings
    if lost:
        source = survey.ground.source
        warnings += (
            f"line {line.name}: {lost} of {len(elevation)} traces lie outside the ground heights of {source}; they have"
            " no elevation",
        )
    return replace(placed, line=replace(placed.line, elevation_m=elevation), warnings=warnings)


def _along_slope(placed: Placed, plan: LinePlan, heights: Heights) -> Placed:
    """Spread the traces of a wheel by distance along the slope; say so where one moves by a centimetre."""
    count = len(placed.line.xy_m)
    if plan.placing in ("track", "stations"):
        return placed
    anchors = [0, count - 1]
    if plan.placing == "wheel" and plan.length_m is None:
        anchors = [0]
    elif plan.placing == "marks":
        marked = [m[0] for m in plan.marks] or [m[0] for m in plan.marks_m] or list(plan.mark_traces)
        anchors = sorted({round(trace) - 1 for trace in marked})
    line, move = by_slope_distance(placed.line, heights, np.array(anchors, np.int64))
    if np.isnan(move):
        said = f"line {line.line.name}: its wheel measures along the slope, and the ground is not known all along it"
        return replace(placed, notes=(*placed.notes, f"{said}; taken as level"))
    if move < 0.01:
        return replace(placed, line=line)
    words = f"line {line.line.name}: distances along the slope made level, which moves traces by up to {move:.2f} m"
    return replace(placed, line=line, notes=(*placed.notes, words))


def ground_heights(survey: Survey) -> Heights:
    """Return what gives ground heights at local places; laid once where `prepare_survey` made the survey."""
    if survey.heights is not None:
        return survey.heights
    if survey.ground is None:
        raise OurFaultError("ground heights asked for, and the survey has none")
    return _heights(survey.ground, survey.transform)


def _heights(ground: Points | HeightRaster, transform: Similarity) -> Heights:
    if isinstance(ground, Points):
        return surface_from_points(ground, transform)
    return lambda xy_m: heights_from_raster(ground, xy_m, transform)


def _place(line: Line, plan: LinePlan, survey: Survey) -> Placed:
    if plan.placing == "pegs":
        return Placed(place_by_pegs(line, plan.start_m, plan.end_m))
    if plan.placing == "track":
        return _by_track(line, survey, plan.aside_m)
    toward = plan.toward_m or plan.end_m
    if plan.placing == "wheel":
        placed, wheel = place_by_wheel(
            line, plan.start_m, toward, plan.nominal_spacing_m, length_m=plan.length_m
        )
        warnings = (
            () if wheel.scale is None else wheel.notes
        )  # an uncalibrated wheel is spoken of once for all lines
        return Placed(placed, notes=_scale_words(wheel), warnings=warnings, wheel=wheel)
    if plan.placing == "stations":
        if survey.stations is None:
            raise PlaceError(
                f"line {line.name} is placed by stations, and none were read. Add the table [stations]."
            )
        placed, warnings = place_by_stations(line, survey.stations, survey.transform)
        return Placed(placed, warnings=warnings)
    if plan.placing == "polyline":
        return Placed(place_on_polyline(line, plan.polyline_m))
    if plan.marks:
        placed, warnings = place_by_marks(line, plan.marks)
        return Placed(placed, warnings=warnings)
    if plan.marks_m:
        placed, warnings = place_by_distances(line, plan.marks_m, plan.start_m, toward)
        return Placed(placed, warnings=warnings)
    return _by_even_marks(line, plan, toward)


def _by_track(line: Line, survey: Survey, aside_m: float) -> Placed:
    if survey.track is None or survey.plan is None:
        raise PlaceError(f"line {line.name} is placed by a track, and none was read. Add the table [track].")
    how = survey.plan
    ahead_m, left_m, up_m = how.lever_arm_m
    placed, report = place_by_track(
        line,
        survey.track,
        time_offset_s=how.time_offset_s or 0.0,
        latency_s=how.latency_s or 0.0,
        lever_arm_m=(ahead_m, left_m - aside_m, up_m),
        gap_max_s=how.gap_max_s,
        min_quality=how.min_quality,
        antenna_height_m=survey.antenna_height_m,
    )
    notes = (
        f"line {line.name}: {report.fixes} fixes, {100 * report.share_fixed:.0f} % of traces by fixed and"
        f" {100 * report.share_float:.0f} % by float ones, one deviation {100 * report.sd_m:.1f} cm, a trace every"
        f" {100 * report.trace_m:.2f} cm",
    )
    if report.blanked:
        return Placed(placed, notes=notes, warnings=report.notes, track=report)
    return Placed(placed, notes=(*notes, *report.notes), track=report)


def _by_even_marks(line: Line, plan: LinePlan, toward: tuple[float, float]) -> Placed:
    assert plan.mark_every_m is not None
    counts = trigger_counts(line)
    if plan.mark_traces[-1] > len(counts):
        raise PlaceError(
            f"line {line.name}: a mark at trace {plan.mark_traces[-1]}, and it has {len(counts)} traces. Correct"
            " mark_traces."
        )
    at = counts[np.array(plan.mark_traces) - 1]
    known = np.arange(2 * len(at) + 4) * plan.mark_every_m
    match = match_marks(at, plan.mark_traces, known.tolist())
    marks_m = list(zip(match.trace, match.distance_m, strict=True))
    placed, warnings = place_by_distances(line, marks_m, plan.start_m, toward)
    told = [*warnings]
    if match.missing_m:
        told.append(
            f"line {line.name}: no mark at {', '.join(f'{m:g}' for m in match.missing_m)} m; bridged by trigger count"
        )
    if match.double:
        told.append(
            f"line {line.name}: marks at traces {', '.join(map(str, match.double))} stand for no distance; left out"
        )
    return Placed(placed, warnings=tuple(told))


def _scale_words(wheel: WheelReport) -> tuple[str, ...]:
    if wheel.scale is None:
        return ()
    return (f"line {wheel.line}: wheel scale {wheel.scale:.4f}, a trace every {100 * wheel.trace_m:.2f} cm",)


def _clock_words(found: ClockOffset) -> str:
    words = f"clock offset {found.offset_s:.3f} s found from {found.lines} lines, one deviation {found.sd_s:.3f} s"
    if found.sd_s > UNSURE_OFFSET_S:
        words += "; the walking was too even to show it well. State time_offset_s if you know it"
    return words
