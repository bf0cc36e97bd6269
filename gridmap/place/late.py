"""Lines whose traces lie off along the line: started late, stopped early, or shifted as a whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.model import Bool, Float64, Int64
from gridmap.place.stagger import neighbours_likeness
from gridmap.place.strips import Strip, StripGroup
from gridmap.place.windows import best_steady_drift

Shape = Literal["started late", "stopped early", "shifted along"]

LEAST_M = 0.15
LEAST_LIKENESS = 0.12
LEAST_RATIO = 1.4
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
    u = group.position_m[::every]
    candidates: list[tuple[float, int, AlongFault]] = []
    quiet = [s.name for s in (strips[:1] + strips[-1:] if len(strips) > 1 else strips)]
    judged = []
    for i in range(1, len(strips) - 1):
        if strips[i + 1].across_m - strips[i - 1].across_m > 3.2 * group.spacing_m:
            quiet.append(strips[i].name)
        else:
            judged.append(i)
    if not judged:
        return [], quiet
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
        both = np.stack([lags - shifts, lags + shifts], axis=2)
        pairs = np.stack([some - 1, some], axis=1)
        like = best_steady_drift(near, pairs, both, np.array([-1, -1]), drift) / near.shape[3]
        for k, i in enumerate(some):
            scores = like[k][:, along[k][1]].mean(axis=1, dtype=np.float64).reshape(len(_SHAPES), -1)
            fault, before = _judge(scores, sizes, group.step_m, strips[i].name)
            if max(before, fault.after) < LEAST_LIKENESS:
                quiet.append(strips[i].name)
            elif abs(fault.size_m) >= LEAST_M and fault.after >= LEAST_RATIO * before:
                candidates.append((fault.after - before, int(i), fault))
    taken: set[int] = set()
    faults = []
    for _, i, fault in sorted(candidates, key=lambda c: -c[0]):
        if not taken & {i - 1, i + 1}:
            taken.add(i)
            faults.append(fault)
    return faults, quiet


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


def _judge(scores: Float64, sizes: Int64, step_m: float, name: str) -> tuple[AlongFault, float]:
    """Take the best of (shape, size) mean square likeness."""
    best: tuple[float, Shape, float, float] | None = None
    nothing = len(sizes) // 2
    before = float(scores[0, nothing])
    for shape, score in zip(_SHAPES, scores.copy(), strict=True):
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
