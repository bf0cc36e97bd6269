"""Lines that run the same way, brought onto one even axis so that they can be compared trace by trace."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.model import Bool, CleanLine, Float32, Float64
from gridmap.place.windows import between_traces, box_widths, running_sums

_SAME_BEARING_DEG = 15.0
_FINE_NS = 0.4


@dataclass(frozen=True, slots=True)
class Strip:
    """One line on the even axis of its group.

    Attributes
    ----------
    name : str
        The line's name.
    index : int
        Where the line stands in the survey.
    heading : int
        1 where it was walked along the axis, -1 where against it.
    across_m : float
        Median distance from the grid's origin, across the axis, metres.
    values : (position, sample) float32
        Echo less its local mean along the line; 0 where not seen.
    seen : (position,) bool
        Where a usable trace is near.
    """

    name: str
    index: int
    heading: int
    across_m: float
    values: Float32
    seen: Bool


@dataclass(frozen=True, slots=True)
class StripGroup:
    """Parallel lines in order across.

    Attributes
    ----------
    axis, normal : (2,) float64
        Unit vectors along the lines and across them, the latter to the side of rising x or y.
    first_m, step_m : float
        First position along the axis and the step, metres.
    strips : tuple of Strip
        By `across_m`, rising.
    """

    axis: Float64
    normal: Float64
    first_m: float
    step_m: float
    strips: tuple[Strip, ...]

    @property
    def position_m(self) -> Float64:
        """The even axis, (position,) metres."""
        return np.asarray(self.first_m + self.step_m * np.arange(len(self.strips[0].seen)), np.float64)

    @property
    def spacing_m(self) -> float:
        """Median distance between neighbours, metres; infinite for one line."""
        across = [s.across_m for s in self.strips]
        return float(np.median(np.diff(across))) if len(across) > 1 else float("inf")


def parallel_groups(lines_xy_m: Sequence[Float64]) -> list[tuple[Float64, list[int]]]:
    """Sort lines into groups that run the same way, walked either way.

    Parameters
    ----------
    lines_xy_m : sequence of (trace, 2) float64
        Positions of each line, metres.

    Returns
    -------
    list of (axis, indices)
        Unit vector along the group, pointing to +x or +y, and which lines belong to it. Lines belong together
        within 15 degrees of the group's first line.
    """
    groups: list[tuple[Float64, list[int]]] = []
    for i, xy in enumerate(lines_xy_m):
        d = xy[-1] - xy[0]
        length = float(np.hypot(*d))
        if length == 0.0:
            continue
        d = d / length
        d = d if d.sum() > 0 or (d.sum() == 0 and d[0] > 0) else -d
        for axis, members in groups:
            if abs(float(axis @ d)) > np.cos(np.radians(_SAME_BEARING_DEG)):
                members.append(i)
                break
        else:
            groups.append((d, [i]))
    return groups


def thinned(
    lines: Sequence[CleanLine], interval_ns: float, *, from_ns: float = 3.0
) -> tuple[list[CleanLine], float]:
    """Keep of every trace what comparisons of lines need.

    Parameters
    ----------
    lines : sequence of CleanLine
        After conditioning, one common time axis.
    interval_ns : float
        Sample interval, nanoseconds.
    from_ns : float
        Earlier samples hold the direct wave and are left out; so is the last fifth of the record, mostly noise.

    Returns
    -------
    lines : list of CleanLine
        New records; sample 0 is no longer time zero.
    interval_ns : float
        Five samples a period of the frequency that the echoes have on the whole, and 0.4 ns at most.
    """
    wanted_ns = min(_FINE_NS, 1.0 / (5.0 * usual_ghz(lines, interval_ns, from_ns)))
    every = max(1, int(wanted_ns / interval_ns + 1e-6))
    out = []
    for line in lines:
        samples = line.traces.shape[1]
        start = min(int(from_ns / interval_ns), samples - 1)
        cut = line.traces[:, start : max(start + 1, int(0.8 * samples)) : every]
        out.append(replace(line, traces=np.ascontiguousarray(cut, np.float32)))
    return out, interval_ns * every


def usual_ghz(lines: Sequence[CleanLine], interval_ns: float, from_ns: float = 3.0) -> float:
    """Root mean square frequency of the echoes, GHz, from the energy of their slope; of some twenty lines."""
    start = int(from_ns / interval_ns)
    slope = energy = 0.0
    for line in lines[:: max(1, len(lines) // 20)]:
        part = line.traces[::10, start : max(start + 2, int(0.8 * line.traces.shape[1]))]
        slope += float((np.diff(part, axis=1) ** 2).sum(dtype=float))
        energy += float((part * part).sum(dtype=float))
    if energy <= 0.0 or slope <= 0.0:
        return 0.4
    return float(np.sqrt(slope / energy) / (2 * np.pi * interval_ns))


def strip_step_m(ghz: float) -> float:
    """Step of an even axis that holds echoes of a frequency: a sixth of the wavelength at 0.1 m/ns, 1 to 5 cm."""
    return float(np.clip(0.1 / ghz / 6.0, 0.01, 0.05))


def even_strips(
    lines: Sequence[CleanLine],
    interval_ns: float,
    *,
    step_m: float = 0.02,
    from_ns: float = 3.0,
    smooth_m: float = 0.6,
    margin_m: float = 0.5,
) -> list[StripGroup]:
    """Bring the lines of each direction onto one even axis.

    Parameters
    ----------
    lines : sequence of CleanLine
        After conditioning, one common time axis.
    interval_ns : float
        Sample interval, nanoseconds.
    step_m : float
        Step of the even axis, metres.
    from_ns : float
        Earlier samples hold the direct wave and are left out; so is the last fifth of the record, mostly noise.
    smooth_m : float
        Standard deviation of the moving mean that is taken off along the line, metres: what is broader says
        nothing about place.
    margin_m : float
        Room before the first and after the last trace, metres.

    Returns
    -------
    list of StripGroup
        One a direction, time thinned.
    """
    thin, _ = thinned(lines, interval_ns, from_ns=from_ns)
    return strips_of(thin, step_m=step_m, smooth_m=smooth_m, margin_m=margin_m)


def strips_of(
    lines: Sequence[CleanLine], *, step_m: float, smooth_m: float = 0.6, margin_m: float = 0.5
) -> list[StripGroup]:
    """As `even_strips`, of lines that are `thinned` already."""
    groups = []
    for axis, members in parallel_groups([ln.xy_m for ln in lines]):
        normal = np.array([-axis[1], axis[0]])
        normal = normal if normal.sum() >= 0 else -normal
        along = [lines[i].xy_m @ axis for i in members]
        first = min(a.min() for a in along) - margin_m
        count = int((max(a.max() for a in along) + margin_m - first) / step_m) + 1
        position = first + step_m * np.arange(count)
        strips = []
        for i, a in zip(members, along, strict=True):
            even, seen = _resample(lines[i].traces, a, lines[i].usable, position)
            strips.append(
                Strip(
                    lines[i].name,
                    i,
                    1 if a[-1] > a[0] else -1,
                    float(np.median(lines[i].xy_m @ normal)),
                    high_pass(even, seen, smooth_m / step_m),
                    seen,
                )
            )
        strips.sort(key=lambda s: s.across_m)
        groups.append(StripGroup(axis, normal, first, step_m, tuple(strips)))
    return groups


def high_pass(values: Float32, seen: Bool, sd: float) -> Float32:
    """Take a moving mean, about Gaussian of `sd` steps, off (position, sample); 0 where not seen."""
    widths = box_widths(sd)
    weight = seen.astype(np.float32)[:, None]
    near = np.maximum(running_sums(weight, widths), np.float32(1e-3))
    return np.asarray((values - running_sums(values, widths) / near) * weight, np.float32)


def balanced(group: StripGroup, interval_m: float = 0.5, samples: float = 8.0) -> StripGroup:
    """Even out strength along each line and in time, so that one strong target does not decide alone.

    Parameters
    ----------
    group : StripGroup
        As from `even_strips`.
    interval_m, samples : float
        Standard deviation of the window of the local energy, metres along the line and samples.

    Returns
    -------
    StripGroup
        Values over the root of their local energy; 5 % of the mean energy is added so that quiet stays quiet.
    """
    strips = []
    for s in group.strips:
        square = s.values * s.values
        local = running_sums(square, box_widths(interval_m / group.step_m))
        local = running_sums(np.ascontiguousarray(local.T), box_widths(samples)).T
        even = s.values / np.sqrt(np.maximum(local, 0) + 0.05 * float(square.mean()) + 1e-30)
        strips.append(replace(s, values=np.asarray(even * s.seen[:, None], np.float32)))
    return replace(group, strips=tuple(strips))


def _resample(values: Float32, along_m: Float64, usable: Bool, position_m: Float64) -> tuple[Float32, Bool]:
    """Linear interpolation between usable traces; seen where one lies within two trace intervals."""
    keep = np.flatnonzero(usable)
    if len(keep) < 2:
        return np.zeros((len(position_m), values.shape[1]), np.float32), np.zeros(len(position_m), bool)
    order = keep[np.argsort(along_m[keep], kind="stable")]
    a = along_m[order]
    right = np.clip(np.searchsorted(a, position_m), 1, len(a) - 1)
    gap = np.maximum(a[right] - a[right - 1], 1e-9)
    share = np.clip((position_m - a[right - 1]) / gap, 0.0, 1.0).astype(np.float32)
    near = np.minimum(np.abs(position_m - a[right - 1]), np.abs(position_m - a[right]))
    seen = (position_m >= a[0]) & (position_m <= a[-1]) & (near <= 2 * np.median(np.diff(a)))
    return between_traces(values, order[right - 1], order[right], share, seen), np.asarray(seen)
