"""Where lines of two directions cross, the same ground was seen twice: how well both agree, in space and time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.model import CleanLine, Float32, Float64
from gridmap.place.strips import Strip, StripGroup, even_strips

_REACH_M = 0.4
_STEP_M = 0.04
_LEAST_LIKENESS = 0.05
_LEAST_CROSSINGS = 4
_MOST_CROSSINGS = 30


@dataclass(frozen=True, slots=True)
class CrossingMisfit:
    """How one line agrees with the lines that cross it.

    Attributes
    ----------
    name : str
        The line.
    crossings : int
        Crossings that were compared.
    along_cm : float
        Shift along the line, in the walking direction, at which it is most like the lines that cross it,
        centimetres: its labels lie so far behind (positive) or ahead of what the others say; NaN: cannot be told.
    time_ns : float
        How much later its echoes come than those of the lines that cross it, nanoseconds; NaN as above.
    likeness : float
        Mean correlation of single traces at the best shift.
    """

    name: str
    crossings: int
    along_cm: float
    time_ns: float
    likeness: float


def crossing_misfits(lines: Sequence[CleanLine], interval_ns: float) -> list[CrossingMisfit]:
    """Compare every line with all lines that cross it.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned and placed.
    interval_ns : float
        Sample interval, nanoseconds.

    Returns
    -------
    list of CrossingMisfit
        In the order of `lines`; no entry for a line that crosses none.

    Notes
    -----
    One crossing says little, so the likenesses of all crossings of a line are averaged before the best shift in
    place and in time is read off, by the parabola through three points. Thirty crossings a line are enough: of
    more, an even choice is taken. Antennas turned by a right angle see
    long objects differently, so likeness at a crossing stays well below 1.
    """
    groups = even_strips(lines, interval_ns, step_m=_STEP_M)
    thin_ns = interval_ns * max(1, int(0.4 / interval_ns + 1e-6))
    found: dict[int, CrossingMisfit] = {}
    for g, group in enumerate(groups):
        for i, strip in enumerate(group.strips):
            tables, lags = [], []
            for h, other in enumerate(groups):
                if h == g:
                    continue
                every = max(1, -(-len(other.strips) // _MOST_CROSSINGS))
                for j in range(i % every, len(other.strips), every):
                    table = crossing_table(group, i, other, j)
                    if table is not None:
                        tables.append(table)
                        lags.append(_time_curve(group, strip, other, other.strips[j]))
            if tables:
                found[strip.index] = _misfit(
                    strip, np.mean(tables, axis=0), np.mean(lags, axis=0), len(tables), thin_ns
                )
    return [found[k] for k in sorted(found)]


def crossing_table(
    one: StripGroup, i: int, other: StripGroup, j: int, reach_m: float = _REACH_M
) -> Float32 | None:
    """Correlate the traces of two crossing lines around their crossing.

    Parameters
    ----------
    one, other : StripGroup
        Groups of the two lines, same step along both.
    i, j : int
        The lines in their groups.
    reach_m : float
        How far from the crossing, along both, metres.

    Returns
    -------
    (shift of one, shift of other) float32 or None
        Correlation of single traces, quiet ones weighed down; None where they do not cross with room on all sides.
    """
    reach = round(reach_m / one.step_m)
    a, b = (
        _patch(one, one.strips[i], other, other.strips[j], reach),
        _patch(other, other.strips[j], one, one.strips[i], reach),
    )
    if a is None or b is None:
        return None
    return np.asarray(a @ b.T, np.float32)


def all_tables(groups: Sequence[StripGroup], reach_m: float) -> Mapping[tuple[int, int], Float32]:
    """Tables of all crossings, keyed by the survey indices of both lines; the second key order is transposed."""
    out: dict[tuple[int, int], Float32] = {}
    for g, one in enumerate(groups):
        for other in groups[g + 1 :]:
            for i, a in enumerate(one.strips):
                for j, b in enumerate(other.strips):
                    table = crossing_table(one, i, other, j, reach_m)
                    if table is not None:
                        out[a.index, b.index] = table
                        out[b.index, a.index] = table.T
    return out


def crossing_at(one: StripGroup, a: Strip, other: StripGroup, b: Strip) -> tuple[float, float]:
    """Where two lines cross: metres along each line's own axis."""
    matrix = np.array([one.normal, other.normal])
    point = np.linalg.solve(matrix, np.array([a.across_m, b.across_m]))
    return float(point @ one.axis), float(point @ other.axis)


def _patch(one: StripGroup, a: Strip, other: StripGroup, b: Strip, reach: int) -> Float32 | None:
    at = round((crossing_at(one, a, other, b)[0] - one.first_m) / one.step_m)
    if at - reach < 0 or at + reach >= len(a.seen) or not a.seen[max(0, at - 2) : at + 3].any():
        return None
    energy = (a.values * a.values).sum(axis=1)
    usual = float(np.median(energy[a.seen])) if a.seen.any() else 1.0
    part = a.values[at - reach : at + reach + 1]
    return np.asarray(
        part / np.sqrt(energy[at - reach : at + reach + 1] + 0.3 * usual + 1e-30)[:, None], np.float32
    )


def _time_curve(one: StripGroup, a: Strip, other: StripGroup, b: Strip, most: int = 6) -> Float64:
    """Correlation against time lag of the traces at the crossing, averaged over 0.2 m of both lines."""
    reach = round(0.1 / one.step_m)
    p, q = _patch(one, a, other, b, reach), _patch(other, b, one, a, reach)
    if p is None or q is None:
        return np.zeros(2 * most + 1)
    x, y = p.mean(axis=0), q.mean(axis=0)
    n = len(x)
    return np.array(
        [x[max(0, k) : n + min(0, k)] @ y[max(0, -k) : n - max(0, k)] for k in range(-most, most + 1)]
    )


def _misfit(strip: Strip, table: Float64, lag: Float64, count: int, thin_ns: float) -> CrossingMisfit:
    middle = table.shape[1] // 2
    curve = table[:, middle - 2 : middle + 3].mean(axis=1)
    best, k = int(np.argmax(curve)), int(np.argmax(lag))
    like = float(curve[best])
    along = time = float("nan")
    if count >= _LEAST_CROSSINGS and like >= _LEAST_LIKENESS and 0 < best < len(curve) - 1:
        along = -100 * _STEP_M * (_vertex(curve, best) - middle) * strip.heading
    if count >= _LEAST_CROSSINGS and lag[k] >= _LEAST_LIKENESS and 0 < k < len(lag) - 1:
        time = (_vertex(lag, k) - len(lag) // 2) * thin_ns
    return CrossingMisfit(strip.name, count, along, time, like)


def _vertex(curve: Float64, k: int) -> float:
    left, top, right = curve[k - 1 : k + 2]
    bend = left - 2 * top + right
    return float(k + (0.5 * (left - right) / bend if bend < 0 else 0.0))
