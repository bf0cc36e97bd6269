"""Lines that run the same way, brought onto one even axis so that they can be compared trace by trace."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter1d

from gridmap.model import Bool, CleanLine, Float32, Float64

_SAME_BEARING_DEG = 15.0


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
        One a direction. Time is thinned to steps of at least 0.4 ns.
    """
    groups = []
    thin = max(1, int(0.4 / interval_ns + 1e-6))
    for axis, members in parallel_groups([ln.xy_m for ln in lines]):
        normal = np.array([-axis[1], axis[0]])
        normal = normal if normal.sum() >= 0 else -normal
        along = [lines[i].xy_m @ axis for i in members]
        first = min(a.min() for a in along) - margin_m
        count = int((max(a.max() for a in along) + margin_m - first) / step_m) + 1
        position = first + step_m * np.arange(count)
        strips = []
        for i, a in zip(members, along, strict=True):
            samples = lines[i].traces.shape[1]
            start = min(int(from_ns / interval_ns), samples - 1)
            values = lines[i].traces[:, start : max(start + 1, int(0.8 * samples)) : thin]
            even, seen = _resample(values, a, lines[i].usable, position)
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
    """Take a Gaussian moving mean, standard deviation `sd` steps, off (position, sample); 0 where not seen."""
    weight = seen.astype(np.float32)
    near = np.maximum(gaussian_filter1d(weight, sd, mode="constant"), 1e-3)
    mean = gaussian_filter1d(values * weight[:, None], sd, axis=0, mode="constant") / near[:, None]
    return np.asarray((values - mean) * weight[:, None], np.float32)


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
        local = gaussian_filter1d(
            gaussian_filter1d(square, interval_m / group.step_m, axis=0), samples, axis=1
        )
        even = s.values / np.sqrt(local + 0.05 * float(square.mean()) + 1e-30)
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
    share = np.clip((position_m - a[right - 1]) / gap, 0.0, 1.0).astype(np.float32)[:, None]
    even = values[order[right - 1]] * (1 - share) + values[order[right]] * share
    near = np.minimum(np.abs(position_m - a[right - 1]), np.abs(position_m - a[right]))
    seen = (position_m >= a[0]) & (position_m <= a[-1]) & (near <= 2 * np.median(np.diff(a)))
    even[~seen] = 0.0
    return np.asarray(even, np.float32), np.asarray(seen)
