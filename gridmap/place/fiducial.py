"""Place a line by fiducial marks: traces whose place or distance is known; missing and double marks found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Float64, Int64, Line, PlacedLine

ODD_SHARE = 0.15
"""An interval between marks whose metres for one trigger are this far off the line's median is told."""

_SPREAD = 0.08
_MISSING_COST = 6.0
_DOUBLE_COST = 6.0
_MOST_SKIPPED = 4


@dataclass(frozen=True, slots=True)
class MarkMatch:
    """Which known distance each mark stands for.

    Attributes
    ----------
    trace : tuple of int
        Traces (1 is the first) of the marks that are used.
    distance_m : tuple of float
        Their distances.
    missing_m : tuple of float
        Known distances between the first and the last mark used at which no mark was set.
    double : tuple of int
        Traces of marks that stand for no distance: set twice, or by mistake.
    """

    trace: tuple[int, ...]
    distance_m: tuple[float, ...]
    missing_m: tuple[float, ...]
    double: tuple[int, ...]


def trigger_counts(line: Line) -> Float64:
    """Return the trigger count of each trace, or 0, 1, 2 ... where none was recorded; refuse what does not rise."""
    count = line.traces.shape[0]
    if line.trace_number is None:
        return np.arange(count, dtype=np.float64)
    stuck = np.flatnonzero(np.diff(line.trace_number) <= 0)
    if stuck.size or line.trace_number.shape != (count,):
        where = f", trace {int(stuck[0]) + 2}" if stuck.size else ""
        raise PlaceError(
            f"line {line.name}{where}: trigger numbers must increase, one a trace. Write the file without them."
        )
    return line.trace_number.astype(np.float64)


def place_by_marks(
    line: Line, marks: Sequence[tuple[float, float, float]], offset_along_m: float = 0.0
) -> tuple[PlacedLine, tuple[str, ...]]:
    """Put the marked traces exactly on their places, and spread the others by trigger count between them.

    Parameters
    ----------
    line : Line
        In the order walked.
    marks : sequence of (trace, x, y)
        Two or more: number of the trace in the order recorded (1 is the first), and local x and y of the mark, in
        metres. In any order.
    offset_along_m : float
        How far the antenna mid-point was ahead of the mark held to the places, metres.

    Returns
    -------
    PlacedLine
        Piecewise straight; before the first and after the last mark as evenly as beside them.
    tuple of str
        Warnings: marks given twice, and stretches whose trace interval does not fit the others (a mark missed, set
        twice or at a wrong place).

    Raises
    ------
    PlaceError
        Fewer than two marks; a trace that is not there; two places for one trace; two marks at one place.
    """
    count = trigger_counts(line)
    kept: dict[int, tuple[float, float]] = {}
    warnings: list[str] = []
    for number, x, y in sorted(marks):
        trace = int(number)
        if trace != number or not 1 <= trace <= len(count):
            raise PlaceError(
                f"line {line.name}: there is no trace {number:g} for the mark at x {x:g}, y {y:g} (1 to {len(count)})."
                " Correct marks in the site file."
            )
        if trace in kept and np.hypot(kept[trace][0] - x, kept[trace][1] - y) > 1e-3:
            raise PlaceError(
                f"line {line.name}: trace {trace} has marks at two places, x {kept[trace][0]:g}, y {kept[trace][1]:g}"
                f" and x {x:g}, y {y:g}. Take one out of marks."
            )
        if trace in kept:
            warnings.append(f"line {line.name}: the mark at trace {trace} is given twice; once is used")
        kept[trace] = (x, y)
    if len(kept) < 2:
        raise PlaceError(
            f"line {line.name}: {len(kept)} mark{'' if len(kept) == 1 else 's'}; two are the least."
        )
    traces = np.array(sorted(kept))
    places = np.array([kept[int(t)] for t in traces], dtype=np.float64)
    at = count[traces - 1]
    way = np.hypot(*np.diff(places, axis=0).T)
    flat = np.flatnonzero(~np.isfinite(way) | (way < 1e-3))
    if flat.size:
        j = int(flat[0])
        raise PlaceError(
            f"line {line.name}: the marks at traces {traces[j]} and {traces[j + 1]} have one place, x {places[j, 0]:g},"
            f" y {places[j, 1]:g}. Correct one of them, or take it out."
        )
    warnings += _odd_stretches(line.name, traces, way / np.diff(at))
    xy_m, along_m = along_vertices(count, at, places)
    if offset_along_m:
        k = np.clip(np.searchsorted(at, count, side="right") - 1, 0, len(at) - 2)
        xy_m = xy_m + offset_along_m * (np.diff(places, axis=0) / way[:, None])[k]
    return PlacedLine(line, xy_m, along_m), tuple(warnings)


def along_vertices(count: Float64, at: Float64, places: Float64) -> tuple[Float64, Float64]:
    """Interpolate places by count, piecewise linear, straight on beyond the ends.

    Parameters
    ----------
    count : (trace,) float64
        Trigger counts, increasing.
    at : (mark,) float64
        Counts of the marks, increasing.
    places : (mark, 2) float64
        Local x and y of the marks, metres.

    Returns
    -------
    (trace, 2) float64, (trace,) float64
        Places, and distance from the first trace along the broken line, metres.
    """
    k = np.clip(np.searchsorted(at, count, side="right") - 1, 0, len(at) - 2)
    share = (count - at[k]) / (at[k + 1] - at[k])
    step = np.diff(places, axis=0)
    xy_m = (1.0 - share)[:, None] * places[k] + share[:, None] * places[k + 1]
    way = np.hypot(*step.T)
    along_m = np.concatenate([[0.0], np.cumsum(way)])[k] + share * way[k]
    return np.asarray(xy_m), np.asarray(along_m - along_m[0])


def place_by_distances(
    line: Line,
    marks_m: Sequence[tuple[float, float]],
    start_m: tuple[float, float],
    toward_m: tuple[float, float],
    offset_along_m: float = 0.0,
) -> tuple[PlacedLine, tuple[str, ...]]:
    """Place a straight line by marks at known distances from its start.

    Parameters
    ----------
    line : Line
        In the order walked.
    marks_m : sequence of (trace, metres)
        Number of the trace (1 is the first) and distance of the mark from `start_m`.
    start_m, toward_m : (float, float)
        Local x and y of the start, and of any other point of the line ahead, metres.
    offset_along_m : float
        See `place_by_marks`.

    Returns
    -------
    PlacedLine, tuple of str
        As `place_by_marks`.

    Raises
    ------
    PlaceError
        As `place_by_marks`; also where the distances do not rise with the traces.
    """
    start, ahead = np.asarray(start_m, dtype=np.float64), np.asarray(toward_m, dtype=np.float64)
    unit = (ahead - start) / np.hypot(*(ahead - start))
    ordered = sorted(marks_m)
    for (a, near), (b, far) in pairwise(ordered):
        if far < near and a != b:
            raise PlaceError(
                f"line {line.name}: the mark at trace {b:g} is at {far:g} m, behind that at trace {a:g}, {near:g} m."
                " Distances must increase along the line: correct marks_m."
            )
    marks = [(trace, *(start + distance * unit)) for trace, distance in ordered]
    return place_by_marks(line, marks, offset_along_m)


def match_marks(count_at: Float64 | Int64, traces: Sequence[int], known_m: Sequence[float]) -> MarkMatch:
    """Find which known distance each mark stands for, where marks were missed or set twice.

    Parameters
    ----------
    count_at : (mark,) number
        Trigger count at each mark, increasing.
    traces : sequence of int
        Trace of each mark, for the answer.
    known_m : sequence of float
        Distances at which marks should have been set, increasing, metres.

    Returns
    -------
    MarkMatch
        The cheapest way to pair them in order.

    Raises
    ------
    PlaceError
        If fewer than two marks or distances are given, or no two can be paired.

    Notes
    -----
    Dynamic programming over pairs (mark, distance). A step from pair to pair costs the square of the logarithm of
    its metres for one count over the usual one, in units of 8 % (a wheel on grass), and a fixed amount for each
    mark and each distance that is passed over. The usual metres for one count are tried from all steps between
    neighbouring marks and distances; the cheapest of all pairings wins.
    """
    at = np.asarray(count_at, dtype=np.float64)
    known = np.asarray(known_m, dtype=np.float64)
    if len(at) < 2 or len(known) < 2 or (np.diff(at) < 0).any() or (np.diff(known) <= 0).any():
        raise PlaceError("marks cannot be told apart: two or more marks and rising distances are needed.")
    steps, metres = np.diff(at), np.diff(known)
    usual = [float(m / s) for m in np.unique(metres.round(6)) for s in np.unique(steps[steps > 0])]
    usual.append(float((known[-1] - known[0]) / max(at[-1] - at[0], 1.0)))
    median = np.median(metres) / np.median(steps[steps > 0]) if (steps > 0).any() else usual[-1]
    tried = sorted({round(np.log(u), 2): u for u in usual}.values(), key=lambda u: abs(np.log(u / median)))[
        :40
    ]
    best = min((_pair_up(at, known, scale) for scale in tried), key=lambda found: found[0])
    if not np.isfinite(best[0]) or len(best[1]) < 2:
        raise PlaceError("marks do not fit the known distances. Check how far apart they were set.")
    pairs = best[1]
    first, last = pairs[0][1], pairs[-1][1]
    used_marks, used_known = {i for i, _ in pairs}, {j for _, j in pairs}
    return MarkMatch(
        trace=tuple(int(traces[i]) for i, _ in pairs),
        distance_m=tuple(float(known[j]) for _, j in pairs),
        missing_m=tuple(float(known[j]) for j in range(first, last + 1) if j not in used_known),
        double=tuple(int(traces[i]) for i in range(len(at)) if i not in used_marks),
    )


def _pair_up(at: Float64, known: Float64, scale: float) -> tuple[float, list[tuple[int, int]]]:
    marks, places = len(at), len(known)
    cost = np.empty((marks, places))
    back: dict[tuple[int, int], tuple[int, int]] = {}
    for i in range(marks):
        for j in range(places):
            cost[i, j] = _DOUBLE_COST * i + _MISSING_COST * j
            for a in range(max(0, i - _MOST_SKIPPED), i):
                for b in range(max(0, j - _MOST_SKIPPED), j):
                    if at[i] <= at[a]:
                        continue
                    off = np.log((known[j] - known[b]) / (at[i] - at[a]) / scale) / _SPREAD
                    here = cost[a, b] + off**2 + _DOUBLE_COST * (i - a - 1) + _MISSING_COST * (j - b - 1)
                    if here < cost[i, j]:
                        cost[i, j] = here
                        back[i, j] = (a, b)
    end = cost + _DOUBLE_COST * np.arange(marks)[::-1, None] + _MISSING_COST * np.arange(places)[::-1]
    pair = tuple(int(v) for v in np.unravel_index(int(np.argmin(end)), end.shape))
    pairs = [(pair[0], pair[1])]
    while pairs[-1] in back:
        pairs.append(back[pairs[-1]])
    return float(end.min()), pairs[::-1]


def _odd_stretches(name: str, traces: Int64, interval_m: Float64) -> list[str]:
    if len(interval_m) < 3:
        return []
    usual = float(np.median(interval_m))
    warnings = []
    for k in np.flatnonzero(np.abs(interval_m / usual - 1.0) > ODD_SHARE):
        ratio = interval_m[k] / usual
        cause = "a mark set twice or a wrong place" if ratio > 1 else "a mark missed or a wrong place"
        warnings.append(
            f"line {name}: between the marks at traces {traces[k]} and {traces[k + 1]} a trace is"
            f" {100 * interval_m[k]:.1f} cm, {ratio:.2f} times the {100 * usual:.1f} cm of the others; looks"
            f" like {cause}"
        )
    return warnings
