"""Clocks: even trace times, days of an undated track, and the offset between recorder and receiver."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Bool, Float64, Line
from gridmap.place.local_track import LocalTrack

DAY_S = 86400.0
_LEAST_FIXES = 6
_CLIP = 25.0
_MISSING = 4.0
_WALKED = 0.6


@dataclass(frozen=True, slots=True)
class ClockOffset:
    """The offset of the recorder's clock, found from the walking itself.

    Attributes
    ----------
    offset_s : float
        To be added to trace times to have the receiver's time.
    sd_s : float
        One standard deviation, from how fast the misfit grows around it; infinite where nothing shows it.
    misfit_m : float
        Root mean square of what the fixes miss straight lines by, there.
    lines : int
        Lines that had fixes at that offset.
    """

    offset_s: float
    sd_s: float
    misfit_m: float
    lines: int


def trace_times(line: Line) -> tuple[Float64, tuple[str, ...]]:
    """Return the time of each trace, increasing; whole seconds are spread evenly.

    Parameters
    ----------
    line : Line
        With times.

    Returns
    -------
    (trace,) float64
        Seconds, strictly increasing.
    tuple of str
        A note where times were spread.

    Raises
    ------
    PlaceError
        Without times, or where they run backward or stand still.
    """
    count = line.traces.shape[0] if line.time_s is None else len(line.time_s)  # samples may be left out
    if line.time_s is None or count < 2:
        what = "no trace times" if line.time_s is None else f"{count} traces"
        raise PlaceError(
            f"line {line.name} has {what}, so it cannot be placed by a track. Give its pegs instead: start_m and end_m."
        )
    time_s = np.asarray(line.time_s, dtype=np.float64)
    step = np.diff(time_s)
    if not np.isfinite(time_s).all() or (step < 0).any():
        bad = int(
            np.flatnonzero(~np.isfinite(time_s))[0]
            if not np.isfinite(time_s).all()
            else np.argmax(step < 0) + 1
        )
        raise PlaceError(
            f"line {line.name}, trace {bad + 1}: its time comes before that of the trace before it. Place the line by"
            " its pegs, or correct the times in the file."
        )
    if (step > 0).all():
        return time_s, ()
    first = np.concatenate([[0], np.flatnonzero(step > 0) + 1])
    if len(first) < 3:
        raise PlaceError(
            f"line {line.name}: its {count} traces share {len(first)} different times. Place the line by its pegs."
        )
    knots, stamps = first[1:].astype(np.float64), time_s[first[1:]]
    index = np.arange(count, dtype=np.float64)
    even = np.interp(index, knots, stamps)
    rate = (stamps[-1] - stamps[0]) / (knots[-1] - knots[0])
    even[: first[1]] = stamps[0] - rate * (knots[0] - index[: first[1]])
    even[first[-1] :] = stamps[-1] + rate * (index[first[-1] :] - knots[-1])
    even += 0.5 * rate  # a new stamp is seen half a trace late on the mean
    return even, (
        f"trace times come in steps of {np.median(np.diff(stamps)):g} s and were spread evenly between them",
    )


def on_trace_clock(track: LocalTrack, time_s: Float64) -> Float64:
    """Return the track's times with the day that suits the traces best, (fix,) seconds.

    Parameters
    ----------
    track : LocalTrack
        Undated tracks are moved by whole days; dated ones keep their times.
    time_s : (trace,) float64
        Times of the traces, with the clock offset put in.

    Returns
    -------
    (fix,) float64
        Seconds on the clock of the traces.
    """
    if track.dated:
        return track.time_s
    middle = np.round((time_s.mean() - track.time_s.mean()) / DAY_S)
    reach = int(np.ceil(np.ptp(track.time_s) / DAY_S)) + 1
    days = middle + np.array(sorted(range(-reach, reach + 1), key=abs))
    inside = [
        np.count_nonzero(
            (time_s >= track.time_s[0] + day * DAY_S) & (time_s <= track.time_s[-1] + day * DAY_S)
        )
        for day in days
    ]
    return np.asarray(track.time_s + days[int(np.argmax(inside))] * DAY_S)


def spoken_time(time_s: float) -> str:
    """Return a time as words: date and time of day, or time of day alone below ten years."""
    if time_s > 3.2e8:
        return datetime.fromtimestamp(time_s, UTC).strftime("%Y-%m-%d %H:%M:%S")
    return datetime.fromtimestamp(time_s % DAY_S, UTC).strftime("%H:%M:%S")


def estimate_clock_offset(
    lines: Sequence[Line], track: LocalTrack, *, latency_s: float = 0.0, search_s: float = 120.0
) -> ClockOffset:
    """Find the offset at which the fixes of every line lie evenly along a straight line by its trigger counts.

    Parameters
    ----------
    lines : sequence of Line
        With times; lines that were walked roughly straight and at a rate that the trigger counts follow.
    track : LocalTrack
        The fixes; all with a deviation below half a metre are used.
    latency_s : float
        How late the fixes are stamped, seconds.
    search_s : float
        Offsets up to this far either way are tried.

    Returns
    -------
    ClockOffset
        A large `sd_s` says that the walking was too even to show the offset.

    Raises
    ------
    PlaceError
        If at no offset enough fixes fall into the lines.

    Notes
    -----
    What shows the offset is uneven walking, and above all the standing at the ends: at a wrong offset the fixes
    of a turn fall into a line whose counts run on. Misses are taken off a straight fit against the count, and
    clipped at five deviations so that a single wrong fix does not decide; a line that did not get on by most of
    the way that the track covers in as much time counts as missed. The deviation of a fix is no less than
    1 cm, and the deviation of the offset comes from the second difference of the misfit.
    """
    good = track.sd_m < 0.5
    if good.sum() < _LEAST_FIXES:
        raise PlaceError(f"track {track.source} is too coarse to find the clock offset. State time_offset_s.")
    prepared = [_prepared(line, track, latency_s, good) for line in lines]
    coarse = np.arange(-search_s, search_s + 1e-9, 0.25)
    cost = np.array([_cost(prepared, offset)[0] for offset in coarse])
    if not np.isfinite(cost).any():
        raise PlaceError(
            f"track {track.source} has no fixes at the times of the lines within {search_s:g} s. State time_offset_s."
        )
    best = coarse[int(np.argmin(cost))]
    fine = best + np.arange(-60, 61) * 0.01
    values = np.array([_cost(prepared, offset)[0] for offset in fine])
    k = int(np.argmin(values))
    near = np.isfinite(values) & (np.abs(np.arange(121) - k) <= 30)
    sd = np.inf
    if near.sum() > 5:
        curve = np.polynomial.polynomial.polyfit(fine[near] - fine[k], values[near], 2)
        if curve[2] > 0:
            sd = float(1.0 / np.sqrt(curve[2]))
            shift = float(np.clip(-curve[1] / (2 * curve[2]), -0.3, 0.3))
            _, misfit, count = _cost(prepared, fine[k] + shift)
            return ClockOffset(round(float(fine[k]) + shift, 4), sd, misfit, count)
    _, misfit, count = _cost(prepared, float(fine[k]))
    return ClockOffset(round(float(fine[k]), 4), sd, misfit, count)


@dataclass(frozen=True, slots=True)
class _Prepared:
    """One line and the track on its clock."""

    time_s: Float64
    count: Float64
    fix_s: Float64
    xy_m: Float64
    sd_m: Float64
    full: float
    way_m: float


def _prepared(line: Line, track: LocalTrack, latency_s: float, good: Bool) -> _Prepared:
    time_s, _ = trace_times(line)
    count = np.arange(len(time_s)) if line.trace_number is None else line.trace_number
    fix_s = on_trace_clock(track, time_s)[good] - latency_s
    xy_m = track.xy_m[good]
    length_s = float(time_s[-1] - time_s[0])
    later = np.clip(np.searchsorted(fix_s, fix_s + length_s), 0, len(fix_s) - 1)
    way_m = float(np.hypot(*(xy_m[later] - xy_m).T).max())
    usual_s = float(np.median(np.diff(fix_s)))
    return _Prepared(
        time_s,
        count.astype(np.float64),
        fix_s,
        xy_m,
        np.maximum(track.sd_m[good], 0.01),
        length_s / usual_s,
        way_m,
    )


def _cost(prepared: Sequence[_Prepared], offset_s: float) -> tuple[float, float, int]:
    """Misfit in squared deviations, in metres, and the count of lines that had fixes and were walked."""
    total, fixes, square, used = 0.0, 0, 0.0, 0
    for one in prepared:
        ends = one.time_s[0] + offset_s, one.time_s[-1] + offset_s
        first, last = np.searchsorted(one.fix_s, ends)
        held = int(last - first)
        if held < _LEAST_FIXES:
            total += _CLIP * one.full
            continue
        s = np.interp(one.fix_s[first:last] - offset_s, one.time_s, one.count)
        weight = 1.0 / one.sd_m[first:last]
        length = float(np.ptp(one.count))
        design = np.column_stack([np.ones(held), (s - s.mean()) / length])
        here = one.xy_m[first:last]
        solution, *_ = np.linalg.lstsq(design * weight[:, None], here * weight[:, None], rcond=None)
        if np.hypot(*solution[1]) < _WALKED * one.way_m:
            total += _CLIP * one.full
            continue
        miss = ((here - design @ solution) ** 2).sum(axis=1)
        total += float(np.minimum(miss * weight**2, _CLIP).sum()) + _MISSING * max(one.full - held, 0.0)
        square += float(miss.sum())
        fixes += held
        used += 1
    if used * 2 < len(prepared):
        return np.inf, np.inf, used
    return total, float(np.sqrt(square / fixes)), used
