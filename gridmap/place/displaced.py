"""Lines that were walked beside their label: where a line would fit best among the others, across the lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.model import Float64
from gridmap.place.alike import likeness_as_labelled
from gridmap.place.strips import StripGroup, balanced

LEAST_DROP = 3.0
"""Drop of misfit, of the line and its neighbours, in units of the misfit that is usual for a line of the survey."""
LEAST_OWN = 1.0
"""The line's own part of it."""
LEAST_SHARE = 0.3
"""The neighbours' part over the line's own: they must gain as well."""
LEAST_TIMES = 3.0
"""The drop over what three of four lines stay below, of those that the move does not touch."""
LEAST_SPACING = 0.4
"""Share of the line spacing: a smaller displacement cannot be told from how the ground itself changes."""
_FAR = 4.2
_REACH = 2.5
_STEP = 0.05
_TOUCHED = 2.6
_BESIDE = 1.6
_FLOOR = 0.1


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
        Root of the drop of the misfit, in units of the misfit that is usual for a line.
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
    Likeness falls with distance: its median over all pairs one, two and more spacings apart is the law of the
    survey. A line is tried at every place between the others; the misfit is what its likenesses to them differ by from
    the law, (law - c)' C^-1 (law - c), with C the likenesses of the others to each other. This is the logarithm of the
    likelihood of the line given the others, both taken as Gaussian, up to its scale (conditional Gaussian: Rasmussen
    and Williams 2006, appendix A.2 [memory]): that neighbours are like each other, or unlike, is taken into account.
    The scale is the misfit usual in the survey. Of the doubtful lines the one whose move makes all lines fit
    best is moved first, then the rest is looked at again, but for lines beside one that was moved.
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
        moves = _moves(alike, place, spacing)
        moved = np.flatnonzero(place != label)
        touched = np.concatenate([label[moved], place[moved]])
        known = [
            m
            for m in moves
            if flanked[m.who] and not (np.abs(touched - label[m.who]) < _BESIDE * spacing).any()
        ]
        able = [m for m in known if abs(m.to_m - label[m.who]) >= LEAST_SPACING * spacing]
        if not able:
            break
        best = max(able, key=lambda m: m.own + m.near)
        far = [
            m.own + m.near
            for m in able
            if min(abs(label[m.who] - label[best.who]), abs(label[m.who] - best.to_m)) > _TOUCHED * spacing
        ]
        drop = best.own + best.near
        sure = (
            drop >= max(LEAST_DROP, LEAST_TIMES * float(np.percentile(far, 75)) if far else 0.0)
            and best.own >= LEAST_OWN
        )
        if not sure or best.near < LEAST_SHARE * best.own:
            break
        place[best.who] = best.to_m
        shift, z = float(best.to_m - label[best.who]), float(np.sqrt(drop))
        words = (
            f"line {strips[best.who].name} looks as if walked {shift:+.2f} m beside its label "
            f"(+-{0.25 * spacing:.2f} m): there it fits the other lines, and they each other, by {drop:.1f} times "
            "the usual misfit of a line"
        )
        found.append(Displacement(strips[best.who].name, shift, 0.25 * spacing, z, words))
    return found


@dataclass(frozen=True, slots=True)
class _Move:
    """The best place of one line, and how far its own misfit and that of its neighbours drop there."""

    who: int
    to_m: float
    own: float
    near: float


def _moves(alike: Float64, place: Float64, spacing: float) -> list[_Move]:
    """Best place of every line, in units of the usual misfit."""
    law = _law(alike, place, spacing)
    trial = spacing * np.arange(-_REACH, _REACH + 0.5 * _STEP, _STEP)
    curves = [_misfit(alike, place, i, spacing, law, place[i] + trial) for i in range(len(place))]
    now = [float(_misfit(alike, place, i, spacing, law, place[i : i + 1])[0]) for i in range(len(place))]
    usual = max(float(np.median(now)), 1e-12)
    out = []
    for i, curve in enumerate(curves):
        to = float(place[i] + trial[np.argmin(curve)])
        moved = place.copy()
        moved[i] = to
        near = 0.0
        for k in range(len(place)):
            if k != i and abs(place[k] - place[i]) < _TOUCHED * spacing:
                near += now[k] - float(_misfit(alike, moved, k, spacing, law, moved[k : k + 1])[0])
        out.append(_Move(i, to, (now[i] - float(curve.min())) / usual, near / usual))
    return out


def _law(alike: Float64, place: Float64, spacing: float) -> Float64:
    """Median likeness of lines 0, 1, 2, ... spacings apart, 1 for none; gaps are filled in."""
    apart = np.rint(np.abs(place[:, None] - place[None]) / spacing).astype(int)
    apart = np.where(np.triu(np.ones(alike.shape, bool), 1), apart, -1)
    law = np.array(
        [1.0] + [np.median(alike[apart == k]) if (apart == k).any() else np.nan for k in range(1, 8)]
    )
    known = np.flatnonzero(np.isfinite(law))
    return np.asarray(np.interp(np.arange(len(law)), known, law[known]), np.float64)


def _misfit(alike: Float64, place: Float64, who: int, spacing: float, law: Float64, at_m: Float64) -> Float64:
    """Misfit of one line to the others within reach of its place, for every trial place."""
    others = np.flatnonzero((np.abs(place - place[who]) <= _FAR * spacing) & (np.arange(len(place)) != who))
    if others.size == 0:
        return np.zeros(len(at_m))
    size, basis = np.linalg.eigh(alike[np.ix_(others, others)])
    wanted = np.interp(np.abs(at_m[:, None] - place[others]) / spacing, np.arange(len(law)), law)
    part = (wanted - alike[who, others]) @ basis
    return np.asarray((part**2 / np.maximum(size, _FLOOR)).sum(axis=1) / others.size, np.float64)
