"""Lines that were walked beside their label: where a line would fit best among the others, across the lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from gridmap.model import Float64
from gridmap.place.alike import likeness_as_labelled
from gridmap.place.strips import StripGroup, balanced

LEAST_DROP = 50.0
"""Drop of squared misfit, of the line and its neighbours, that is taken for proof; sound surveys stay below 45."""
LEAST_SHARE = 0.2
"""The neighbours' share of it over the line's own: they must gain as well."""
LEAST_SPACING = 0.4
"""Share of the line spacing: a smaller displacement cannot be told from how the ground itself changes."""
_FAR = 4.0
_SCATTER = 0.06


@dataclass(frozen=True, slots=True)
class Displacement:
    """A line that seems to lie beside its label.

    Attributes
    ----------
    name : str
        The line.
    across_m : float
        How far the line really lies from its label, across the lines, to rising x or y, metres.
    sd_m : float
        Standard deviation: a quarter of the line spacing, as known surveys show.
    z : float
        Root of the drop of the misfit, in units of the usual scatter.
    words : str
        One sentence for a person.
    """

    name: str
    across_m: float
    sd_m: float
    z: float
    words: str


def find_displaced(group: StripGroup, leave_out: Sequence[str] = ()) -> list[Displacement]:
    """Look for lines of one group that lie beside their labels.

    Parameters
    ----------
    group : StripGroup
        Strips with a wide moving mean (3 m), as for `find_order_faults`.
    leave_out : sequence of str
        Lines that are known to be wrong otherwise; they take no part.

    Returns
    -------
    list of Displacement
        At most a quarter of the lines; empty with fewer than six lines. End lines and lines beside one left out
        are not judged.

    Notes
    -----
    Likeness falls with distance, faster where the ground changes faster. Minus its logarithm adds up along the
    row of lines like a distance; between the other lines it gives a scale on which the line in question is
    placed where all its likenesses fit best (one-dimensional scaling, Torgerson 1952 [memory]). Of the doubtful
    lines the one whose move makes all lines fit best is moved first, then the rest is looked at again.
    """
    strips = tuple(s for s in group.strips if s.name not in leave_out)
    if len(strips) < 6:
        return []
    even = balanced(StripGroup(group.axis, group.normal, group.first_m, group.step_m, strips))
    alike = np.clip(likeness_as_labelled(even, 0.15), 0.02, 0.98)
    label = np.array([s.across_m for s in strips])
    spacing = group.spacing_m
    flanked = np.concatenate([[False], label[2:] - label[:-2] < 2.6 * spacing, [False]])
    place = label.copy()
    found: list[Displacement] = []
    for _ in range(max(1, len(strips) // 4)):
        fits = [_best_place(alike, place, i, spacing) for i in range(len(strips))]
        moves = [
            (*_drop(alike, place, fits, i, spacing), i)
            for i in range(len(strips))
            if flanked[i] and place[i] == label[i] and abs(fits[i][0] - label[i]) >= LEAST_SPACING * spacing
        ]
        sure = [m for m in moves if m[0] + m[1] >= LEAST_DROP and m[1] >= LEAST_SHARE * m[0]]
        if not sure:
            break
        own, near, chosen = max(sure, key=lambda m: m[0] + m[1])
        at, z = fits[chosen][0], float(np.sqrt(own + near))
        place[chosen] = at
        shift = float(at - label[chosen])
        words = (
            f"line {strips[chosen].name} looks as if walked {shift:+.2f} m beside its label "
            f"(+-{0.25 * spacing:.2f} m, {z:.1f} sigma): there it fits the other lines, and they each other"
        )
        found.append(Displacement(strips[chosen].name, shift, 0.25 * spacing, z, words))
    return found


def _drop(
    alike: Float64, place: Float64, fits: Sequence[tuple[float, float, float]], who: int, spacing: float
) -> tuple[float, float]:
    """How far the misfit of a line, and that of its neighbours, drops when the line moves to its best place."""
    moved = place.copy()
    moved[who] = fits[who][0]
    near = [k for k in range(len(place)) if k != who and abs(place[k] - place[who]) < 2.6 * spacing]
    others = sum(fits[k][2] - _best_place(alike, moved, k, spacing)[2] for k in near)
    return fits[who][1] ** 2, float(others)


def _best_place(alike: Float64, place: Float64, who: int, spacing: float) -> tuple[float, float, float]:
    """Place across where a line fits best, root of the drop in misfit, and the misfit where it is now."""
    order = np.argsort(place, kind="stable")
    others = order[order != who]
    at = place[others]
    apart = -np.log(alike)
    one = np.median([apart[a, b] for a, b in pairwise(order)])
    two = np.median([apart[a, b] for a, b in zip(order, order[2:], strict=False)])
    nugget = float(np.clip(2 * one - two, 0.0, 0.8 * one))
    rate = max(float(two - one), 0.02) / spacing
    steps = np.array([max(apart[a, b] - nugget, 0.02) for a, b in pairwise(others)])
    scale = np.concatenate([[0.0], np.cumsum(steps)])
    near = np.abs(at - place[who]) <= _FAR * spacing
    trial = place[who] + spacing * np.arange(-2.2, 2.2001, 0.05)
    on_scale = np.interp(trial, at, scale)
    on_scale += np.minimum(trial - at[0], 0.0) * rate + np.maximum(trial - at[-1], 0.0) * rate
    wanted = np.exp(-(nugget + np.abs(on_scale[:, None] - scale[None, near])))
    misfit = (((wanted - alike[who, others[near]]) / _SCATTER) ** 2).sum(axis=1)
    best, now = int(np.argmin(misfit)), float(np.interp(place[who], trial, misfit))
    return float(trial[best]), float(np.sqrt(max(0.0, now - misfit[best]))), now
