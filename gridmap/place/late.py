"""Lines whose traces lie off along the line: started late, stopped early, or shifted as a whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.model import Bool, Float64, Int64
from gridmap.place.stagger import neighbours_likeness
from gridmap.place.strips import Strip, StripGroup
from gridmap.place.trace_count import Missing
from gridmap.place.windows import best_steady_drift

Shape = Literal["started late", "stopped early", "shifted along", "too few traces"]

LEAST_M = 0.15
LEAST_LIKENESS = 0.12
LEAST_RATIO = 1.3
LEAST_COUNT_Z = 3.5
FALSE_ALARMS = 0.05
"""False alarms in a sound survey that are put up with, by the number of lines looked at."""
_TIMES_USUAL = 4.0
_COUNT_SHOWS = 4.0
_SAMPLES = 4.0
"""Logarithm of likelihood of a mean square likeness of 1 of four pairs over a metre, as for the wheel's scale."""
_SIMPLER = 1.0
_TELLS_ENDS = 2.0
_REACH_M = 1.2
_DRIFT_M = 0.3
_EVERY_M = 0.4
_AT_ONCE = 64
_SHAPES: tuple[Shape, ...] = ("shifted along", "started late", "stopped early")


@dataclass(frozen=True, slots=True)
class AlongFault:
    """A line whose labels are wrong along the line.

    Attributes
    ----------
    name : str
        The line.
    shape : str
        "started late": the first trace lies `size_m` ahead of its peg, the last at its peg; "stopped early": the
        last lies `size_m` short of its peg; "shifted along": all lie `size_m` ahead; "too few traces": `size_m` is
        not covered, at which end cannot be told.
    size_m, sd_m : float
        Metres in the walking direction; the standard deviation is from the width of the maximum.
    before, after : float
        Mean square likeness to the neighbours as labelled and as corrected; NaN where it has no say.
    count_z : float
        What the count of traces says of a late start or early stop, standard deviations; NaN where nothing.
    words : str
        One sentence for a person.
    """

    name: str
    shape: Shape
    size_m: float
    sd_m: float
    before: float
    after: float
    count_z: float
    words: str


def find_along_faults(
    group: StripGroup, leave_out: Sequence[str] = (), counts: Mapping[str, Missing] | None = None
) -> tuple[list[AlongFault], list[str]]:
    """Look for lines that lie off along the line.

    Parameters
    ----------
    group : StripGroup
        Strips with a moving mean of 0.6 m, stagger taken out.
    leave_out : sequence of str
        Lines that are reversed, swapped or copies: neither judged nor compared with.
    counts : mapping of str to Missing or None
        What the count of traces says of each line, from `missing_by_count`.

    Returns
    -------
    faults : list of AlongFault
        The clear ones.
    quiet : list of str
        Lines with too little in common with their neighbours to tell.

    Notes
    -----
    As in `gridmap.place.stagger`, likeness is taken in windows and a steady drift from line to line, as of an
    oblique pipe, is left free; it needs a neighbour on each side. What neighbours and what the count of traces say
    are added as logarithms of likelihood. A fault is
    reported from 0.15 m, where the gain of likelihood is above the logarithm of lines over false alarms put up with
    and above four times the gain that three of four lines of the survey stay below, where the likeness is 1.3 times
    that of the labels or the count says so, and no neighbour explains it better; lines that the neighbours cannot
    judge are named by their count alone, from 3.5 standard deviations.
    """
    counts = counts or {}
    strips = [s for s in group.strips if s.name not in leave_out]
    lags = round((_REACH_M + _DRIFT_M) / group.step_m)
    every = max(1, round(_EVERY_M / group.step_m))
    u = group.position_m[::every]
    if len(strips) < 2:
        return [], [s.name for s in strips]
    candidates: list[tuple[float, int, AlongFault]] = []
    quiet = [s.name for s in strips[:1] + strips[-1:]]
    judged = []
    for i in range(1, len(strips) - 1):
        if strips[i + 1].across_m - strips[i - 1].across_m > 3.2 * group.spacing_m:
            quiet.append(strips[i].name)
        else:
            judged.append(i)
    verdicts: list[tuple[_Verdict, int]] = []
    near = neighbours_likeness(
        np.stack([s.values for s in strips]),
        np.stack([s.seen for s in strips]),
        lags,
        group.step_m,
        every,
        whole=False,
    )
    drift = round(_DRIFT_M / group.step_m)
    sizes = np.arange(drift - lags, lags - drift + 1)
    for first in range(0, len(judged), _AT_ONCE):  # bounds the memory
        some = np.array(judged[first : first + _AT_ONCE])
        along = [_along_line(group, strips[i], u) for i in some]
        shifts = np.array(
            [_shifts(sizes, share, strips[i].heading) for (share, _), i in zip(along, some, strict=True)]
        )
        unmoved = np.full_like(shifts, lags)
        four = np.stack([unmoved, lags - shifts, lags + shifts, unmoved], axis=2)
        pairs = np.stack([some - 2, some - 1, some, some + 1], axis=1)
        pairs[:, 0] = np.where(pairs[:, 0] < 0, np.minimum(pairs[:, 3], len(near) - 1), pairs[:, 0])
        pairs[:, 3] = np.where(pairs[:, 3] >= len(near), pairs[:, 0], pairs[:, 3])
        like = best_steady_drift(near, pairs, four, np.full(4, -1), drift) / near.shape[3]
        for k, i in enumerate(some):
            scores = like[k][:, along[k][1]].mean(axis=1, dtype=np.float64).reshape(len(_SHAPES), -1)
            weight = _SAMPLES * near.shape[3] * float(along[k][1].sum()) * every * group.step_m
            weight = _SAMPLES * near.shape[3] * float(along[k][1].sum()) * every * group.step_m
            verdict = _judge(scores, sizes, group.step_m, strips[i].name, weight, counts.get(strips[i].name))
            verdicts.append((verdict, int(i)))
    gains = np.array([v.gain for v, _ in verdicts])
    least = max(
        np.log(len(strips) / FALSE_ALARMS), _TIMES_USUAL * np.percentile(gains, 75) if gains.size else 0
    )
    for verdict, i in verdicts:
        fault = verdict.fault
        shown = fault.after >= LEAST_RATIO * fault.before or verdict.of_count >= _COUNT_SHOWS
        if verdict.gain >= least and abs(fault.size_m) >= LEAST_M and shown:
            candidates.append((verdict.gain, i, fault))
        elif max(fault.before, fault.after) < LEAST_LIKENESS:
            quiet.append(fault.name)
    sure: list[AlongFault] = []
    for name in list(quiet):
        count = counts.get(name)
        if count is not None and count.z >= LEAST_COUNT_Z and count.missing_m >= LEAST_M:
            sure.append(_by_count(name, count))
            quiet.remove(name)
    taken: set[int] = set()
    faults = sure
    for _, i, fault in sorted(candidates, key=lambda c: -c[0]):
        if not taken & {i - 1, i + 1}:
            taken.add(i)
            faults.append(fault)
    return faults, quiet


@dataclass(frozen=True, slots=True)
class _Verdict:
    """The best fault of a line, what it gains in logarithm of likelihood, and what of that the count gives."""

    fault: AlongFault
    gain: float
    of_count: float


def _along_line(group: StripGroup, strip: Strip, at_m: Float64) -> tuple[Float64, Bool]:
    """Share of the line walked at each window, 0 to 1, and which windows lie within what was seen."""
    seen = np.flatnonzero(strip.seen)
    first, last = group.position_m[seen[0]], group.position_m[seen[-1]]
    share = np.clip((at_m - first) / max(group.step_m, last - first), 0, 1)
    return share if strip.heading > 0 else 1.0 - share, (at_m >= first) & (at_m <= last)


def _shifts(sizes: Int64, share: Float64, heading: int) -> Int64:
    """Lags along the axis of every shape and size at every window, (shape x size, window)."""
    weights = (np.ones(len(share)), 1.0 - share, -share)
    return np.concatenate([np.rint(sizes[:, None] * heading * w).astype(np.int64) for w in weights])


def _judge(
    scores: Float64, sizes: Int64, step_m: float, name: str, weight: float, count: Missing | None
) -> _Verdict:
    """Take the best of (shape, size) mean square likeness, `weight` of which is a logarithm of likelihood."""
    nothing = len(sizes) // 2
    before = float(scores[0, nothing])
    total = weight * scores
    total[1:, sizes < 0] = -np.inf  # nobody starts before the first peg or stops beyond the last
    if count is not None:
        total[0] -= 0.5 * count.z**2
        total[1:] -= 0.5 * ((sizes * step_m - count.missing_m) / count.sd_m) ** 2
    top = total.max(axis=1)
    shape = int(np.argmax(top + _SIMPLER * np.array([1, 0, 0])))
    best = int(np.argmax(total[shape]))
    likely = np.exp(total[shape] - top[shape])
    size_m = float(sizes[best] * step_m)
    sd = float(np.sqrt((likely * (sizes * step_m - size_m) ** 2).sum() / likely.sum()))
    after = float(scores[shape, best])
    gain = float(top[shape] - total[0, nothing])
    of_count = gain - weight * (after - before)
    unsure = shape > 0 and abs(top[1] - top[2]) < _TELLS_ENDS
    what: Shape = "too few traces" if unsure else _SHAPES[shape]
    z = count.z if count is not None and shape > 0 else float("nan")
    return _Verdict(_fault(name, what, size_m, max(0.02, sd), before, after, z), gain, of_count)


def _by_count(name: str, count: Missing) -> AlongFault:
    nan = float("nan")
    return _fault(name, "too few traces", count.missing_m, count.sd_m, nan, nan, count.z)


def _fault(
    name: str, shape: Shape, size_m: float, sd_m: float, before: float, after: float, z: float
) -> AlongFault:
    looks = (
        f"line {name} has too few traces for its length by {size_m:.2f} m (+-{sd_m:.2f} m): it started late or stopped "
        "early, which cannot be told"
        if shape == "too few traces"
        else f"line {name} looks {shape} by {abs(size_m):.2f} m (+-{sd_m:.2f} m)"
        f"{' against the walking direction' if size_m < 0 else ''}"
    )
    why = []
    if np.isfinite(before):
        why.append(
            f"likeness to its neighbours {np.sqrt(before):.2f} as labelled, {np.sqrt(after):.2f} if so"
        )
    if np.isfinite(z) and z > 0:
        why.append(f"its count of traces is off by {z:.1f} sigma")
    return AlongFault(name, shape, size_m, sd_m, before, after, z, f"{looks}: {'; '.join(why)}")
