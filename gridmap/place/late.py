"""Lines whose traces lie off along the line: started late, stopped early, or shifted as a whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from gridmap.model import Float32, Float64
from gridmap.place.stagger import local_likeness
from gridmap.place.strips import StripGroup

Shape = Literal["started late", "stopped early", "shifted along"]

LEAST_M = 0.15
LEAST_LIKENESS = 0.12
LEAST_RATIO = 1.4
_REACH_M = 1.2
_DRIFT_M = 0.3
_EVERY_M = 0.2


@dataclass(frozen=True, slots=True)
class AlongFault:
    """A line whose labels are wrong along the line.

    Attributes
    ----------
    name : str
        The line.
    shape : str
        "started late": the first trace lies `size_m` ahead of its peg, the last at its peg; "stopped early": the
        last lies `size_m` short of its peg; "shifted along": all lie `size_m` ahead.
    size_m, sd_m : float
        Metres in the walking direction; the standard deviation is from the width of the maximum.
    before, after : float
        Mean square likeness to the neighbours as labelled and as corrected.
    words : str
        One sentence for a person.
    """

    name: str
    shape: Shape
    size_m: float
    sd_m: float
    before: float
    after: float
    words: str


def find_along_faults(group: StripGroup, leave_out: Sequence[str] = ()) -> tuple[list[AlongFault], list[str]]:
    """Look for lines that lie off along the line.

    Parameters
    ----------
    group : StripGroup
        Strips with a moving mean of 0.6 m, stagger taken out.
    leave_out : sequence of str
        Lines that are reversed, swapped or copies: neither judged nor compared with.

    Returns
    -------
    faults : list of AlongFault
        The clear ones.
    quiet : list of str
        Lines with too little in common with their neighbours to tell.

    Notes
    -----
    As in `gridmap.place.stagger`, likeness is taken in windows and a steady drift from line to line, as of an
    oblique pipe, is left free; it needs a neighbour on each side, so end lines are not judged. A fault is
    reported from 0.15 m, a mean square likeness of 0.12 and 1.4 times that of the labels, and only where no
    neighbour explains it better.
    """
    strips = [s for s in group.strips if s.name not in leave_out]
    lags = round((_REACH_M + _DRIFT_M) / group.step_m)
    every = max(1, round(_EVERY_M / group.step_m))
    near = [local_likeness(a.values, b.values, lags, group.step_m, every) for a, b in pairwise(strips)]
    u = group.position_m[::every]
    candidates: list[tuple[float, int, AlongFault]] = []
    quiet = [s.name for s in (strips[:1] + strips[-1:] if len(strips) > 1 else strips)]
    for i in range(1, len(strips) - 1):
        if strips[i + 1].across_m - strips[i - 1].across_m > 3.2 * group.spacing_m:
            quiet.append(strips[i].name)
            continue
        seen = np.flatnonzero(strips[i].seen)
        share = np.clip((u - group.position_m[seen[0]]) / (group.step_m * max(1, seen[-1] - seen[0])), 0, 1)
        share = share if strips[i].heading > 0 else 1.0 - share
        inside = (u >= group.position_m[seen[0]]) & (u <= group.position_m[seen[-1]])
        fault, before = _judge(
            near[i - 1][::-1], near[i], share, inside, strips[i].heading, group.step_m, strips[i].name
        )
        if max(before, fault.after) < LEAST_LIKENESS:
            quiet.append(strips[i].name)
        elif abs(fault.size_m) >= LEAST_M and fault.after >= LEAST_RATIO * before:
            candidates.append((fault.after - before, i, fault))
    taken: set[int] = set()
    faults = []
    for _, i, fault in sorted(candidates, key=lambda c: -c[0]):
        if not taken & {i - 1, i + 1}:
            taken.add(i)
            faults.append(fault)
    return faults, quiet


def _judge(
    left: Float32, right: Float32, share: Float64, inside: np.ndarray, heading: int, step_m: float, name: str
) -> tuple[AlongFault, float]:
    lags = len(right) // 2
    drift = round(_DRIFT_M / step_m)
    most = lags - drift
    sizes = np.arange(-most, most + 1)
    window = np.arange(len(share))
    best: tuple[float, Shape, float, float] | None = None
    shapes: tuple[tuple[Shape, Float64, int], ...] = (
        ("shifted along", np.ones(len(share)), 1),
        ("started late", 1.0 - share, 1),
        ("stopped early", share, -1),
    )
    before = 0.0
    for shape, weight, sign in shapes:
        score = np.empty(len(sizes))
        for k, size in enumerate(sizes):
            shift = np.rint(size * sign * heading * weight).astype(int)
            most_like = np.full(right.shape[1:], -1.0, np.float32)
            for d in range(-drift, drift + 1):
                both = left[lags + shift + d, window] + right[lags + shift - d, window]
                np.maximum(most_like, both, out=most_like)
            score[k] = (np.maximum(0.5 * most_like, 0.0) ** 2)[inside].mean()
        before = float(score[most])
        if shape != "shifted along":
            score[sizes < 0] = 0.0  # nobody starts before the first peg or stops beyond the last
        k = int(np.argmax(score))
        if best is None or score[k] > 1.02 * best[0]:
            wide = float((score > 0.5 * (score[k] + np.median(score))).sum()) * step_m
            best = (float(score[k]), shape, float(sizes[k] * step_m), max(0.02, 0.15 * wide))
    assert best is not None
    after, shape_found, size_m, sd = best
    words = (
        f"line {name} looks {shape_found} by {abs(size_m):.2f} m (+-{sd:.2f} m)"
        f"{' against the walking direction' if size_m < 0 else ''}: likeness to its neighbours {np.sqrt(before):.2f} "
        f"as labelled, {np.sqrt(after):.2f} if so"
    )
    return AlongFault(name, shape_found, size_m, sd, before, after, words), before
