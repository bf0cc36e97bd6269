"""Where lines of two directions cross, the same ground was seen twice: how well both agree, in space and time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.model import CleanLine, Float32, Float64
from gridmap.place.strips import Strip, StripGroup, strips_of, thinned

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
    thin, thin_ns = thinned(lines, interval_ns)
    return misfits_of_groups(strips_of(thin, step_m=_STEP_M), thin_ns)


def misfits_of_groups(groups: Sequence[StripGroup], thin_ns: float) -> list[CrossingMisfit]:
    """As `crossing_misfits`, of strips whose samples are `thin_ns` apart."""
    even = [_even(group) for group in groups]
    found: dict[int, CrossingMisfit] = {}
    for g, group in enumerate(even):
        for i, strip in enumerate(group.strips):
            curves, lags = [], []
            for h, other in enumerate(even):
                if h == g:
                    continue
                every = max(1, -(-len(other.strips) // _MOST_CROSSINGS))
                for j in range(i % every, len(other.strips), every):
                    at = crossing_at(group, strip, other, other.strips[j])
                    a = _around(group, strip, at[0], _REACH_M)
                    b = _around(other, other.strips[j], at[1], _REACH_M)
                    if a is not None and b is not None:
                        middle = len(b) // 2
                        curves.append(a @ b[middle - 2 : middle + 3].mean(axis=0))
                        lags.append(_time_curve(a, b, round(0.1 / group.step_m)))
            if curves:
                found[strip.index] = _misfit(
                    strip, np.mean(curves, axis=0), np.mean(lags, axis=0), len(curves), group.step_m, thin_ns
                )
    return [found[k] for k in sorted(found)]


def crossing_table(
    one: StripGroup, i: int, other: StripGroup, j: int, reach_m: float = _REACH_M
) -> Float32 | None:
    """Correlate the traces of two crossing lines around their crossing.

    Parameters
    ----------
    one, other : StripGroup
        Groups of the two lines of traces of unit length, same step along both.
    i, j : int
        The lines in their groups.
    reach_m : float
        How far from the crossing, along both, metres.

    Returns
    -------
    (shift of one, shift of other) float32 or None
        Correlation of single traces, quiet ones weighed down; None where they do not cross with room on all sides.
    """
    at = crossing_at(one, one.strips[i], other, other.strips[j])
    a = _around(one, one.strips[i], at[0], reach_m)
    b = _around(other, other.strips[j], at[1], reach_m)
    return None if a is None or b is None else np.asarray(a @ b.T, np.float32)


def all_tables(groups: Sequence[StripGroup], reach_m: float) -> Mapping[tuple[int, int], Float32]:
    """Tables of all crossings, keyed by the survey indices of both lines; the second key order is transposed."""
    out: dict[tuple[int, int], Float32] = {}
    even = [_even(group) for group in groups]
    for g, one in enumerate(even):
        for other in even[g + 1 :]:
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


def _even(group: StripGroup) -> StripGroup:
    """Traces of about unit length, quiet ones less, so that a product of two is their correlation."""
    strips = []
    for strip in group.strips:
        energy = (strip.values * strip.values).sum(axis=1)
        usual = float(np.median(energy[strip.seen])) if strip.seen.any() else 1.0
        unit = strip.values / np.sqrt(energy + 0.3 * usual + 1e-30)[:, None]
        strips.append(replace(strip, values=np.asarray(unit, np.float32)))
    return replace(group, strips=tuple(strips))


def _around(group: StripGroup, strip: Strip, at_m: float, reach_m: float) -> Float32 | None:
    """Traces of a strip within reach of a place; None without room on both sides or where it was not seen."""
    reach = round(reach_m / group.step_m)
    at = round((at_m - group.first_m) / group.step_m)
    if at - reach < 0 or at + reach >= len(strip.seen) or not strip.seen[max(0, at - 2) : at + 3].any():
        return None
    return strip.values[at - reach : at + reach + 1]


def _time_curve(a: Float32, b: Float32, reach: int, most: int = 6) -> Float64:
    """Correlation against time lag of the traces at a crossing, averaged over `reach` steps on either side."""
    middle = len(a) // 2
    x = a[middle - reach : middle + reach + 1].mean(axis=0)
    y = b[middle - reach : middle + reach + 1].mean(axis=0)
    n = len(x)
    return np.array(
        [x[max(0, k) : n + min(0, k)] @ y[max(0, -k) : n - max(0, k)] for k in range(-most, most + 1)]
    )


def _misfit(
    strip: Strip, curve: Float64, lag: Float64, count: int, step_m: float, thin_ns: float
) -> CrossingMisfit:
    middle = len(curve) // 2
    best, k = int(np.argmax(curve)), int(np.argmax(lag))
    like = float(curve[best])
    along = time = float("nan")
    if count >= _LEAST_CROSSINGS and like >= _LEAST_LIKENESS and 0 < best < len(curve) - 1:
        along = -100 * step_m * (_vertex(curve, best) - middle) * strip.heading
    if count >= _LEAST_CROSSINGS and lag[k] >= _LEAST_LIKENESS and 0 < k < len(lag) - 1:
        time = (_vertex(lag, k) - len(lag) // 2) * thin_ns
    return CrossingMisfit(strip.name, count, along, time, like)


def _vertex(curve: Float64, k: int) -> float:
    left, top, right = curve[k - 1 : k + 2]
    bend = left - 2 * top + right
    return float(k + (0.5 * (left - right) / bend if bend < 0 else 0.0))
