"""How late a receiver stamps its fixes, found from the ground: opposed passes over one thing disagree by twice u tau.

A fix that is stamped tau late puts every trace u tau behind its place in the walking direction (u is the walking
speed). Lines walked both ways, and lines that cross, see the same ground twice, each with a shift of its own direction.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.model import CleanLine, Float64, PlacedLine
from gridmap.place.crossings import all_tables
from gridmap.place.stagger import stagger_of_groups
from gridmap.place.strips import StripGroup, even_strips

_REACH_M = 0.6
_STEP_M = 0.04
_LEAST_CROSSINGS = 12
_LEAST_LIKENESS = 0.05
_WORST_SD_M = 0.03
_FLOOR_SD_M = 0.005
_BLOCKS = 8


@dataclass(frozen=True, slots=True)
class Latency:
    """How late fixes are stamped.

    Attributes
    ----------
    latency_s : float
        The place of a fix is that at its time minus this; NaN where it cannot be told.
    sd_s : float
        One standard deviation; NaN as above.
    speed_m_per_s : float
        Mean walking speed.
    pairs, crossings : int
        Neighbours walked opposite ways, and crossings, that it was found from.
    words : str
        One sentence for a person.
    """

    latency_s: float
    sd_s: float
    speed_m_per_s: float
    pairs: int
    crossings: int
    words: str

    @property
    def known(self) -> bool:
        """Whether a number could be told."""
        return bool(np.isfinite(self.latency_s))


def walking_speeds(placed: Sequence[PlacedLine], names: Collection[str]) -> dict[str, float]:
    """Return the median speed of each of the named lines that has trace times and moves, metres per second."""
    speeds = {}
    for one in placed:
        if one.line.name not in names or one.line.time_s is None or len(one.along_m) < 3:
            continue
        step_s = np.diff(one.line.time_s)
        moving = step_s > 0
        speed = float(np.median(np.diff(one.along_m)[moving] / step_s[moving])) if moving.any() else 0.0
        if speed > 0:
            speeds[one.line.name] = speed
    return speeds


def estimate_latency(
    lines: Sequence[CleanLine], interval_ns: float, speed_m_per_s: Mapping[str, float]
) -> Latency:
    """Find the latency at which opposed and crossing passes see the same ground at the same place.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned, placed by a track.
    interval_ns : float
        Sample interval, nanoseconds.
    speed_m_per_s : mapping
        Walking speed by name; lines without one are left out.

    Returns
    -------
    Latency
        NaN where no lines were walked both ways or cross, or where they have nothing in common.

    Notes
    -----
    Opposed neighbours: the stagger of `gridmap.place.stagger` over the mean speed. Crossings: the likeness of both
    traces at their crossing, averaged over all crossings, against the latency. Both are weighed by their variances.
    """
    lines = [ln for ln in lines if ln.name in speed_m_per_s]
    speeds = [speed_m_per_s[ln.name] for ln in lines]
    mean = float(np.mean(speeds)) if speeds else float("nan")
    found: list[tuple[float, float]] = []
    pairs = crossings = 0
    if len(lines) > 1:
        groups = even_strips(lines, interval_ns, step_m=_STEP_M)
        stagger = stagger_of_groups(groups)
        if stagger.known:
            pairs = stagger.pairs
            found.append((stagger.stagger_m / mean, max(stagger.sd_m, _FLOOR_SD_M) / mean))
        at_crossings = _at_crossings(groups, np.array(speeds), mean)
        if at_crossings is not None:
            crossings = at_crossings[2]
            found.append(at_crossings[:2])
    if not found:
        return Latency(
            float("nan"), float("nan"), mean, 0, 0,
            "the latency of the fixes cannot be told: too few lines were walked both ways or cross, or they have too"
            " little in common. State latency_s if you know it",
        )  # fmt: skip
    weight = np.array([1 / sd**2 for _, sd in found])
    latency = float((weight * [value for value, _ in found]).sum() / weight.sum())
    sd = float(1 / np.sqrt(weight.sum()))
    words = (
        f"fixes are stamped {latency:+.3f} s late (1 sigma {sd:.3f} s), found from {pairs} opposed neighbours and"
        f" {crossings} crossings at {mean:.2f} m/s: {100 * latency * mean:+.1f} cm along the line"
    )
    return Latency(latency, sd, mean, pairs, crossings, words)


def later_on_path(placed: PlacedLine, latency_s: float) -> PlacedLine:
    """Return a line whose traces lie where its own path was `latency_s` later; straight on beyond the ends."""
    time_s = placed.line.time_s
    if time_s is None or len(time_s) < 2:
        return placed
    clock = np.asarray(time_s, np.float64)
    first = np.concatenate([[0], np.flatnonzero(np.diff(clock) > 0) + 1])
    at = clock + latency_s
    columns = [placed.xy_m[:, 0], placed.xy_m[:, 1], placed.along_m]
    x, y, along = (_onward(at, clock[first], column[first]) for column in columns)
    ground = placed.elevation_m
    return replace(
        placed,
        xy_m=np.column_stack([x, y]),
        along_m=along - along[0],
        elevation_m=None if ground is None else np.interp(at, clock[first], ground[first]),
    )


def with_latency(
    lines: Sequence[CleanLine], placed: Sequence[PlacedLine], names: Collection[str], latency_s: float
) -> tuple[list[CleanLine], list[PlacedLine]]:
    """Move the named lines, conditioned and as read alike; see `later_on_path`."""
    moved = [later_on_path(one, latency_s) if one.line.name in names else one for one in placed]
    by_name = {one.line.name: one for one in moved}
    return [replace(ln, xy_m=by_name[ln.name].xy_m, along_m=by_name[ln.name].along_m) for ln in lines], moved


def _onward(at: Float64, knots: Float64, values: Float64) -> Float64:
    """Interpolate; beyond the ends go on at the mean rate of the last few knots."""
    out = np.interp(at, knots, values)
    few = min(len(knots) - 1, 10)
    if few < 1:
        return np.asarray(out)
    low, high = at < knots[0], at > knots[-1]
    out[low] += (at[low] - knots[0]) * (values[few] - values[0]) / (knots[few] - knots[0])
    out[high] += (at[high] - knots[-1]) * (values[-1] - values[-1 - few]) / (knots[-1] - knots[-1 - few])
    return np.asarray(out)


def _at_crossings(
    groups: Sequence[StripGroup], speed: Float64, mean: float
) -> tuple[float, float, int] | None:
    """Latency, its deviation (jackknife over blocks of lines) and count of crossings; None where it cannot be told."""
    heading = {s.index: s.heading for g in groups for s in g.strips}
    trial_s = np.arange(-0.9 * _REACH_M, 0.9 * _REACH_M, 0.25 * _STEP_M) / float(speed.max())
    curves: dict[int, list[Float64]] = {}
    count = 0
    for (a, b), table in all_tables(groups, _REACH_M).items():
        if a > b:
            continue
        middle = table.shape[0] // 2
        k = [np.rint(middle - heading[i] * speed[i] * trial_s / _STEP_M).astype(int) for i in (a, b)]
        curves.setdefault(a, []).append(np.asarray(table[k[0], k[1]], np.float64))
        count += 1
    if count < _LEAST_CROSSINGS:
        return None
    sums = np.array([np.sum(each, axis=0) for each in curves.values()])
    whole = sums.sum(axis=0)
    best = _peak(whole, trial_s)
    if best is None or whole.max() < _LEAST_LIKENESS * count:
        return None
    blocks = np.arange(len(sums)) % min(_BLOCKS, len(sums))
    without = [_peak(whole - sums[blocks == block].sum(axis=0), trial_s) for block in np.unique(blocks)]
    kept = np.array([value for value in without if value is not None])
    if len(kept) < max(2, len(without) - 1):
        return None
    sd = float(np.sqrt((len(kept) - 1) * np.var(kept)))
    return (best, max(sd, _FLOOR_SD_M / mean), count) if sd * mean < _WORST_SD_M else None


def _peak(curve: Float64, trial_s: Float64) -> float | None:
    """Return the vertex of the parabola through the top half of the highest peak; None at the rim."""
    k = int(np.argmax(curve))
    near = np.abs(np.arange(len(curve)) - k) <= 4
    if not 4 <= k < len(curve) - 4:
        return None
    bend = np.polynomial.polynomial.polyfit(trial_s[near] - trial_s[k], curve[near], 2)
    return float(trial_s[k] - bend[1] / (2 * bend[2])) if bend[2] < 0 else None
