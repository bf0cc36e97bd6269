"""How far a line lies from where both its neighbours, or the lines that cross it, want it: at its two ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from gridmap.model import Float32, Float64
from gridmap.place.crossings import crossing_at, crossing_table
from gridmap.place.stagger import local_likeness
from gridmap.place.strips import StripGroup

STEP_M = 0.04
EVERY = 5
DRIFT_M = 0.3
GRID_M = 0.01

_DRIFT_COST = 0.2
_CROSS_M = 0.6
_LEAST_CROSSINGS = 4
_MOST_CROSSINGS = 40
_CROSS_PARTS = 6
_FLOOR_M = 0.005


@dataclass(frozen=True, slots=True)
class EndShift:
    """What would bring a line to where others see the same ground.

    Attributes
    ----------
    index : int
        The line, as it stands in the survey.
    at_m : (2,) float64
        Places along its group's axis, metres.
    shift_m : (2,) float64
        How far the line lies behind the others there (along the axis), metres.
    spread_m : (2, 2) float64
        Covariance, from leaving out one part of the evidence after the other.
    others : tuple of (int, float)
        The lines it was compared with, and the weight of each; empty for crossing lines, which pin the place itself.
    """

    index: int
    at_m: Float64
    shift_m: Float64
    spread_m: Float64
    others: tuple[tuple[int, float], ...]


def neighbour_shifts(group: StripGroup, reach_m: float) -> list[EndShift]:
    """Compare each line of a group with its two neighbours at once.

    Parameters
    ----------
    group : StripGroup
        On the axes as far as they are known.
    reach_m : float
        Largest shift that is tried, metres.

    Returns
    -------
    list of EndShift
        One for each line between two others, where it has something in common with them.

    Notes
    -----
    Whatever lies oblique moves from one neighbour over the line to the other by equal steps, so for every patch of
    ground that step is left free, and the line's own shift is what both sides have in common: for each shift tried, the
    mean of both likenesses at the best step, squared, summed over patches. Shifts that vary evenly from end to end are
    tried, and the best is refined by a parabola.
    """
    found = []
    lags = round((reach_m + DRIFT_M) / STEP_M) + 1
    like = [
        local_likeness(a.values, b.values, lags, STEP_M, EVERY)
        for a, b in zip(group.strips, group.strips[1:], strict=False)
    ]
    position = group.position_m[::EVERY]
    for k in range(1, len(group.strips) - 1):
        before, own, after = group.strips[k - 1 : k + 2]
        gap = np.array([own.across_m - before.across_m, after.across_m - own.across_m])
        if not gap.min() > 0:
            continue
        # likeness of (before, own) against lag, turned round to be that of (own, before)
        curves = _both_sides(_turned(like[k - 1]), like[k], lags, reach_m, 2 * gap / gap.sum())
        seen = own.seen[::EVERY]
        if seen.sum() < 3:
            continue
        others = ((before.index, gap[1] / gap.sum()), (after.index, gap[0] / gap.sum()))
        shift = _end_shift(curves[:, seen], position[seen], reach_m, own.index, others)
        if shift is not None:
            found.append(shift)
    return found


def crossing_shifts(groups: Sequence[StripGroup], reach_m: float, other_m: float) -> list[EndShift]:
    """Compare each line with the lines that cross it; their pegs say where on the line they lie.

    `other_m`: how far the crossing lines may lie off along themselves, metres.
    """
    found = []
    trial_m = _trials(reach_m)
    for g, group in enumerate(groups):
        for i, strip in enumerate(group.strips):
            at, rows = [], []
            for other in (o for h, o in enumerate(groups) if h != g):
                every = max(1, -(-len(other.strips) // _MOST_CROSSINGS))
                for j in range(i % every, len(other.strips), every):
                    table = crossing_table(group, i, other, j, max(_CROSS_M, reach_m + 2 * STEP_M))
                    if table is not None:
                        at.append(crossing_at(group, strip, other, other.strips[j])[0])
                        rows.append(_own_curve(table, trial_m, other_m))
            if len(rows) < _LEAST_CROSSINGS:
                continue
            curve = np.array(rows)  # (crossing, trial)
            parts = np.zeros((len(trial_m), len(at), _CROSS_PARTS))
            parts[:, np.arange(len(at)), np.arange(len(at)) % _CROSS_PARTS] = curve.T
            shift = _end_shift(parts, np.array(at), reach_m, strip.index, ())
            if shift is not None:
                found.append(shift)
    return found


def _trials(reach_m: float) -> Float64:
    count = round(reach_m / STEP_M)
    return np.asarray(STEP_M * np.arange(-count, count + 1), np.float64)


def _turned(like: Float32) -> Float32:
    """Take the likeness of one(u) with other(u + lag), as that of other(u) with one(u + lag): windows hardly move."""
    return like[::-1]


def _own_curve(table: Float32, trial_m: Float64, other_m: float) -> Float64:
    middle, near = table.shape[0] // 2, max(1, round(other_m / STEP_M))
    curve = table[:, middle - near : middle + near + 1].mean(axis=1)
    return np.asarray(np.interp(-trial_m, STEP_M * (np.arange(len(curve)) - middle), curve), np.float64)


def _both_sides(one: Float32, two: Float32, lags: int, reach_m: float, ratio: Float64) -> Float64:
    """Squared mean likeness of both sides at the best drift, (trial, window, part)."""
    reach, drift = round(reach_m / STEP_M), round(DRIFT_M / STEP_M)
    out = np.zeros((2 * reach + 1, *one.shape[1:]))
    for v in range(-reach, reach + 1):
        best = np.full(one.shape[1:], -1.0, np.float32)
        for d in range(-drift, drift + 1):
            a, b = lags + v + round(d * ratio[0]), lags + v - round(d * ratio[1])
            if not (0 <= a < len(one) and 0 <= b < len(two)):
                continue
            np.maximum(best, 0.5 * (one[a] + two[b]) - _DRIFT_COST * (d / drift) ** 2, out=best)
        out[v + reach] = np.maximum(best, 0.0) ** 2
    return out


def _end_shift(
    curves: Float64, at_m: Float64, reach_m: float, index: int, others: tuple[tuple[int, float], ...]
) -> EndShift | None:
    """Best shifts at both ends of curves (trial, place, part), and their covariance by the jackknife over parts."""
    trial_m = _trials(reach_m)
    ends = np.array([at_m.min(), at_m.max()])
    if ends[1] - ends[0] < 1.0:
        return None
    share = (at_m - ends[0]) / (ends[1] - ends[0])
    half = round(reach_m / GRID_M)
    grid = GRID_M * np.arange(-half, half + 1)
    fine = CubicSpline(trial_m, curves, axis=0)(grid)  # (grid, place, part)
    whole = _peak(fine.sum(axis=2), share, half)
    if whole is None:
        return None
    parts = [p for p in range(curves.shape[2]) if curves[:, :, p].any()]
    without = [_peak(fine.sum(axis=2) - fine[:, :, p], share, half) for p in parts]
    kept = np.array([w for w in without if w is not None])
    if len(kept) < max(3, len(parts) - 1):
        return None
    off = kept - kept.mean(axis=0)
    spread = (len(kept) - 1) / len(kept) * off.T @ off + _FLOOR_M**2 * np.eye(2)
    return EndShift(index, ends, whole, spread, others)


def _peak(fine: Float64, share: Float64, half: int) -> Float64 | None:
    """Shifts at both ends at which the sum over places (grid, place) is largest; None at the rim."""
    places = np.arange(fine.shape[1])
    low = high = 0
    for step in (4, 1):
        tried = step * np.arange(-(half // step), half // step + 1) if step == 4 else np.arange(-5, 6)
        a, b = np.meshgrid(
            np.clip(low + tried, -half, half), np.clip(high + tried, -half, half), indexing="ij"
        )
        at = np.rint(a.ravel()[:, None] + (b - a).ravel()[:, None] * share).astype(int) + half
        score = fine[at, places].sum(axis=1)
        best = int(np.argmax(score))
        low, high = int(a.ravel()[best]), int(b.ravel()[best])
    if max(abs(low), abs(high)) > half - 2:
        return None
    return GRID_M * np.array([low, high], np.float64)
