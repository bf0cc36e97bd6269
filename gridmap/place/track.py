"""Place a line by a track of fixes: joined by time, smoothed along the trigger count, moved by the lever arm."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Bool, Float64, Int64, Line, PlacedLine
from gridmap.place.clock import on_trace_clock, spoken_time, trace_times
from gridmap.place.local_track import LocalTrack, MinQuality, quality_counts
from gridmap.place.smooth_path import Path, fit_path

GAP_MAX_S = 5.0
"""Longest gap between fixes that is bridged where nothing else is stated, seconds."""

GAP_OVER_USUAL = 2.5
"""A step between fixes this many times the usual one is a gap."""

_LEAST_STEP_M = 1e-6
_STILL = 0.2


@dataclass(frozen=True, slots=True)
class TrackReport:
    """How well a track placed a line.

    Attributes
    ----------
    line : str
        The line.
    fixes : int
        Fixes within the line's time that were good enough to be used.
    outliers : int
        Of those, how many were rejected.
    share_fixed, share_float, share_other : float
        Share of traces by the quality of the fix nearest in time; a file that states none counts as other.
    bridged, blanked : int
        Traces in gaps that were bridged by the trigger count, and in gaps too long, which are not usable.
    gaps : tuple of (float, float, float)
        First time (s), length (s) and length along the line (m) of every gap.
    sd_m, sd_95_m : float
        Median and 95 % over usable traces of one standard deviation of a place, one axis, metres.
    misfit_m : float
        Root mean square of what the fixes used miss the path by, one axis, metres, beside the error that a
        stretch of float or coarser fixes shares.
    trace_m : float
        Metres walked for one trigger count, by the track.
    time_offset_s, latency_s : float
        As used.
    notes : tuple of str
        What a person should know, one sentence each.
    quality : (trace,) int64
        Of the fix nearest in time to each trace.
    in_gap : (trace,) bool
        Traces in gaps between fixes, bridged or not.
    """

    line: str
    fixes: int
    outliers: int
    share_fixed: float
    share_float: float
    share_other: float
    bridged: int
    blanked: int
    gaps: tuple[tuple[float, float, float], ...]
    sd_m: float
    sd_95_m: float
    misfit_m: float
    trace_m: float
    time_offset_s: float
    latency_s: float
    notes: tuple[str, ...] = ()
    quality: Int64 = field(default_factory=lambda: np.zeros(0, np.int64))
    in_gap: Bool = field(default_factory=lambda: np.zeros(0, bool))


def place_by_track(
    line: Line,
    track: LocalTrack,
    *,
    time_offset_s: float = 0.0,
    latency_s: float = 0.0,
    lever_arm_m: tuple[float, float, float] = (0.0, 0.0, 0.0),
    gap_max_s: float = GAP_MAX_S,
    min_quality: MinQuality = "float",
    antenna_height_m: float = 0.0,
) -> tuple[PlacedLine, TrackReport]:
    """Place every trace of a line by a track.

    Parameters
    ----------
    line : Line
        With trace times; trigger counts are used where there are such.
    track : LocalTrack
        In the local grid.
    time_offset_s : float
        Added to trace times to have the receiver's time, seconds.
    latency_s : float
        How late fixes are stamped: the place of a fix is that at its time minus this, seconds.
    lever_arm_m : (float, float, float)
        From the radar's antenna mid-point to the receiver's antenna: ahead in the walking direction, to the
        left of it, and up, metres.
    gap_max_s : float
        Gaps between fixes up to this are bridged; traces in longer ones are not usable, seconds.
    min_quality : "fixed", "float", "differential" or "any"
        Fixes below it are not used.
    antenna_height_m : float
        Of the radar's antenna above the ground, metres, for the elevation.

    Returns
    -------
    PlacedLine
        With `usable` where traces are blanked, and `elevation_m` of the ground where fixes have heights.
    TrackReport
        What was used and how well it fits.

    Raises
    ------
    PlaceError
        Without trace times, or with fewer than two fixes that can be used within the line.

    Notes
    -----
    Fixes are joined to the trigger count by time, and the path is smoothed over the count, not over time: where
    a wheel triggers, the place is almost even in the count however unevenly the line was walked, and a gap is
    bridged by the count; where a clock triggers, count and time are the same. How stiff the path is, the line
    itself says (maximum likelihood); see `gridmap.place.smooth_path`. Runs of fixes of one quality share most of
    their error, see `gridmap.place.local_track.WHITE_SHARE`.
    """
    time_s, notes = trace_times(line)
    at_s = time_s + time_offset_s
    fix_s = on_trace_clock(track, at_s) - latency_s
    enough = track.enough(min_quality)
    inside = (fix_s >= at_s[0]) & (fix_s <= at_s[-1])
    used = np.flatnonzero(enough & inside)
    count = (
        np.arange(len(time_s), dtype=np.float64)
        if line.trace_number is None
        else line.trace_number.astype(float)
    )
    if (np.diff(count) <= 0).any():
        raise PlaceError(
            f"line {line.name}, trace {int(np.argmax(np.diff(count) <= 0)) + 2}: its trigger number does not increase."
            " Write the file without trigger numbers."
        )
    try:
        if len(used) < 2:
            raise ValueError
        axis_m, scale = _axis(count, np.interp(fix_s[used], at_s, count), track.xy_m[used])
        s_fix = np.interp(fix_s[used], at_s, axis_m)
        white_m = track.white_sd_m()
        stretch, shared_m = _stretches(track.quality[used], track.sd_m[used], white_m[used])
        path, good = fit_path(s_fix, track.xy_m[used], white_m[used], stretch=stretch, stretch_sd_m=shared_m)
    except ValueError:
        raise PlaceError(_no_fixes(line, track, fix_s, at_s, inside, min_quality)) from None
    kept = used[good]
    antenna = path.at(axis_m)
    ahead = _heading(path, axis_m)
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    xy_m = antenna - lever_arm_m[0] * ahead - lever_arm_m[1] * left
    reference = np.flatnonzero(enough & ~np.isin(np.arange(len(fix_s)), used[~good]))
    bridged, blanked = _gap_traces(at_s, fix_s[reference], gap_max_s)
    gaps = _gaps(at_s, fix_s[reference], axis_m)
    sd = path.sd_at(axis_m) * max(1.0, path.scale)
    usable = ~blanked
    nearest = track.quality[kept[_nearest(fix_s[kept], at_s)]]
    report = TrackReport(
        line=line.name,
        fixes=len(used),
        outliers=int((~good).sum()),
        share_fixed=float((nearest == 4).mean()),
        share_float=float((nearest == 5).mean()),
        share_other=float((~np.isin(nearest, (4, 5))).mean()),
        bridged=int(bridged.sum()),
        blanked=int(blanked.sum()),
        gaps=gaps,
        sd_m=float(np.median(sd[usable])) if usable.any() else float("nan"),
        sd_95_m=float(np.percentile(sd[usable], 95)) if usable.any() else float("nan"),
        misfit_m=float(
            np.sqrt(((track.xy_m[kept] - path.at(s_fix[good]) - path.shift[stretch[good]]) ** 2).mean())
        ),
        trace_m=scale,
        time_offset_s=time_offset_s,
        latency_s=latency_s,
        notes=(*notes, *_words(line.name, int((~good).sum()), len(used), gaps, bridged, blanked, gap_max_s)),
        quality=np.asarray(nearest, np.int64),
        in_gap=bridged | blanked,
    )
    elevation = _elevation(track, kept, s_fix[good], axis_m, lever_arm_m[2] + antenna_height_m)
    step = np.hypot(*np.diff(xy_m, axis=0).T)
    along_m = np.concatenate([[0.0], np.cumsum(np.maximum(step, _LEAST_STEP_M))])
    return PlacedLine(line, xy_m, along_m, None if usable.all() else usable, elevation), report


def _axis(count: Float64, at_count: Float64, xy_m: Float64) -> tuple[Float64, float]:
    """Scale trigger counts to about a metre of walking: median over fixes a good part of the line apart."""
    half = max(1, len(at_count) // 2)
    steps = at_count[half:] - at_count[:-half]
    way = np.hypot(*(xy_m[half:] - xy_m[:-half]).T)
    moved = steps > 0
    if not moved.any():
        raise ValueError("all fixes at one count")
    scale = float(np.median(way[moved] / steps[moved]))
    if scale <= 0 or not np.isfinite(scale):
        raise ValueError("all fixes at one place")
    return (count - count[0]) * scale, scale


def _stretches(quality: Int64, sd_m: Float64, white_m: Float64) -> tuple[Int64, Float64]:
    """Return the number of each fix's run of one quality, and the deviation of what each run shares."""
    stretch = np.concatenate([[0], np.cumsum(np.diff(quality) != 0)]).astype(np.int64)
    square = np.bincount(stretch, np.maximum(sd_m**2 - white_m**2, 0.0)) / np.bincount(stretch)
    return stretch, np.sqrt(square)


def _heading(path: Path, axis_m: Float64) -> Float64:
    """Return unit vectors of the walking direction; where it stands still, that of the nearest trace that moves."""
    slope = path.slope_at(axis_m)
    speed = np.hypot(*slope.T)
    moves = np.flatnonzero(speed > _STILL * np.median(speed))
    near = moves[_nearest(axis_m[moves], axis_m)]
    return np.asarray(slope[near] / speed[near, None])


def _nearest(knots: Float64, points: Float64) -> np.ndarray:
    right = np.clip(np.searchsorted(knots, points), 1, max(len(knots) - 1, 1))
    right = np.minimum(right, len(knots) - 1)
    left = np.maximum(right - 1, 0)
    return np.where(points - knots[left] <= knots[right] - points, left, right)


def _around(at_s: Float64, fix_s: Float64) -> tuple[Float64, Float64]:
    """Time from each trace back to the last fix and on to the next, seconds; infinite where there is none."""
    after = np.searchsorted(fix_s, at_s)
    padded = np.concatenate([[-np.inf], fix_s, [np.inf]])
    return at_s - padded[after], padded[after + 1] - at_s


def _usual_s(fix_s: Float64) -> float:
    return float(np.median(np.diff(fix_s))) if len(fix_s) > 1 else 0.0


def _gap_traces(at_s: Float64, fix_s: Float64, gap_max_s: float) -> tuple[Bool, Bool]:
    """Traces in gaps that are bridged, and in gaps that are too long; an open end may be half as long."""
    back, on = _around(at_s, fix_s)
    open_end = np.isinf(back) | np.isinf(on)
    length = np.where(open_end, 2 * np.minimum(back, on), back + on)
    usual = _usual_s(fix_s)
    gap = length > GAP_OVER_USUAL * max(usual, 1e-3)
    return gap & (length <= gap_max_s), gap & (length > gap_max_s)


def _gaps(at_s: Float64, fix_s: Float64, axis_m: Float64) -> tuple[tuple[float, float, float], ...]:
    """Gaps between fixes that hold traces: first time, seconds, metres along the line within them."""
    edges = np.concatenate([[at_s[0]], fix_s[(fix_s > at_s[0]) & (fix_s < at_s[-1])], [at_s[-1]]])
    before, after = fix_s[fix_s <= at_s[0]], fix_s[fix_s >= at_s[-1]]
    true_edges = edges.copy()
    if before.size:
        true_edges[0] = before[-1]
    if after.size:
        true_edges[-1] = after[0]
    metres = np.interp(edges, at_s, axis_m)
    length_s, length_m = np.diff(true_edges), np.diff(metres)
    gaps = np.flatnonzero(length_s > GAP_OVER_USUAL * max(_usual_s(fix_s), 1e-3))
    return tuple((float(true_edges[k]), float(length_s[k]), float(length_m[k])) for k in gaps)


def _elevation(
    track: LocalTrack, kept: np.ndarray, s_fix: Float64, axis_m: Float64, down_m: float
) -> Float64 | None:
    """Height of the ground: the receiver's, smoothed, less the lever arm and the radar's own height."""
    held = np.isfinite(track.height_m[kept])
    if held.sum() < 2:
        return None
    try:
        path, _ = fit_path(s_fix[held], track.height_m[kept[held]][:, None], track.sd_up_m[kept[held]])
    except ValueError:
        return None
    return np.asarray(path.at(axis_m)[:, 0] - down_m)


def _words(
    name: str, outliers: int, fixes: int, gaps: tuple[tuple[float, float, float], ...], bridged: Bool, blanked: Bool,
    gap_max_s: float,
) -> list[str]:  # fmt: skip
    notes = []
    if outliers:
        notes.append(f"line {name}: {outliers} of {fixes} fixes miss the path and were left out")
    if bridged.any():
        lengths = ", ".join(f"{s:.1f} s, {m:.1f} m" for _, s, m in gaps if s <= gap_max_s)
        notes.append(
            f"line {name}: {int(bridged.sum())} traces in gaps of the track bridged by trigger count ({lengths})"
        )
    if blanked.any():
        lengths = ", ".join(f"{s:.1f} s, {m:.1f} m" for _, s, m in gaps if s > gap_max_s)
        notes.append(
            f"line {name}: {int(blanked.sum())} of {len(blanked)} traces lie in gaps of the track longer than"
            f" {gap_max_s:g} s ({lengths}) and are left out. Walk that part again, or raise gap_max_s"
        )
    return notes


def _no_fixes(
    line: Line, track: LocalTrack, fix_s: Float64, at_s: Float64, inside: Bool, min_quality: MinQuality
) -> str:
    span = f"{spoken_time(at_s[0])} to {spoken_time(at_s[-1])}"
    if inside.any():
        low = quality_counts(track.quality[inside])
        return (
            f"line {line.name} ({span}): too few fixes of quality {min_quality} or better that move (track"
            f" {track.source} has {low} in that time). Lower min_quality, or place the line by its pegs."
        )
    hint = ""
    quarter = round((fix_s[0] - at_s[0]) / 900.0) * 900.0
    if fix_s[-1] < at_s[0] or fix_s[0] > at_s[-1]:
        hint = (
            f" If the recorder ran on another time zone, try time_offset_s = {quarter:.0f}."
            if quarter
            else ""
        )
    return (
        f"line {line.name} was walked from {span}, and track {track.source} has no fix in that time (it runs from"
        f" {spoken_time(fix_s[0])} to {spoken_time(fix_s[-1])}). Check the clocks.{hint}"
    )
