"""Reversed, swapped and duplicated lines, found because they do not look like their neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.model import Bool, CleanLine, Int64
from gridmap.place.alike import Alike, copies_likeness, likeness
from gridmap.place.strips import StripGroup, balanced, strips_of, thinned

Fault = Literal["reversed", "swapped", "duplicate"]

LEAST_Z = 1.5
"""Gain over scatter that is taken for proof; no change to a sound survey that was tried gained more than 0.1."""
LEAST_GAIN = 0.02
FALSE_ALARMS = 0.05
"""False alarms in a sound survey that are put up with: of many changes that are tried one always gains a little."""
CLEAR = 3.0
"""Likeness of neighbours over the scatter of unlike lines from which the order is clear."""
COPY_LIKENESS = 0.9
"""Trace by trace two recordings of neighbouring lines stay below this; a copy, even with noise added, above."""
COPY_UNLIKE = 0.5
"""What two copies differ by, over what the most alike of the other pairs differ by, at most."""
_APART = ((1, 1.0), (2, 0.5))


@dataclass(frozen=True, slots=True)
class OrderFinding:
    """One suspicion about which file belongs to which place.

    Attributes
    ----------
    kind : "reversed", "swapped" or "duplicate"
        What it looks like.
    lines : tuple of str
        The line; for a swap both; for a duplicate the suspected copy, then its original.
    before, after : float
        Mean likeness to the neighbours as labelled and as corrected; for a duplicate the next most alike pair of the
        survey, trace by trace, and this pair.
    z : float
        The gain in units of the scatter of lines that have nothing in common.
    words : str
        One sentence for a person.
    """

    kind: Fault
    lines: tuple[str, ...]
    before: float
    after: float
    z: float
    words: str


def find_order_faults(lines: Sequence[CleanLine], interval_ns: float) -> tuple[list[OrderFinding], str]:
    """Look for reversed, swapped and duplicated lines.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned, placed by their labels.
    interval_ns : float
        Sample interval, nanoseconds.

    Returns
    -------
    findings : list of OrderFinding
        The surest first; empty where all is as it should be.
    note : str
        What could not be told and why; empty where all could.

    Notes
    -----
    Each line is compared with its neighbours one and two apart. The single change (one line turned, or two
    exchanged) that makes neighbours most alike is taken, then the next, as long as the gain is more than 1.5
    times the scatter of unlike lines and 0.02 of correlation. Where neighbours are hardly more alike than lines that
    have nothing in common, the gain must also be above what the best of so many changes would have by chance,
    sqrt(2 ln(changes / 0.05)) times that scatter (largest of many normal deviates: Cramer 1946, section 28.6 [memory]).
    A copy is left out of these comparisons.
    """
    thin, _ = thinned(lines, interval_ns)
    return order_of_groups(strips_of(thin, step_m=0.05, smooth_m=3.0), thin)


def order_of_groups(
    groups: Sequence[StripGroup], thin: Sequence[CleanLine]
) -> tuple[list[OrderFinding], str]:
    """As `find_order_faults`, of strips with a wide moving mean (3 m) and the thinned lines that they are made of."""
    findings: list[OrderFinding] = []
    notes: list[str] = []
    for group in groups:
        if len(group.strips) < 4:
            notes.append(f"{len(group.strips)} parallel lines, four are needed")
            continue
        alike = likeness(balanced(group), 0.15)
        copies = _copies(group, thin, alike)
        if len(copies) > max(1, len(group.strips) // 4):
            notes.append(f"{len(copies)} pairs of lines are as alike as copies: even ground tells none apart")
            continue
        findings += copies
        out = {name for found in copies for name in found.lines[:1]}
        use = np.array([s.name not in out for s in group.strips])
        if _usual(alike, use) < 2 * alike.noise:
            notes.append("neighbouring lines have too little in common")
            continue
        findings += _rearranged(group, alike, use)
    findings.sort(key=lambda f: -f.z)
    note = f"order of the lines cannot be told: {'; '.join(dict.fromkeys(notes))}" if notes else ""
    return findings, note


def _usual(alike: Alike, use: Bool) -> float:
    """Upper quartile of the likeness of neighbours one apart: where several lines are wrong the rest still speak."""
    one = np.diag(alike.same, 1)[use[1:] & use[:-1]]
    return float(np.percentile(one, 75)) if one.size else 0.0


def _copies(group: StripGroup, thin: Sequence[CleanLine], alike: Alike) -> list[OrderFinding]:
    like = copies_likeness([thin[s.index].traces for s in group.strips])
    found = []
    for i, j in zip(*np.nonzero(like >= COPY_LIKENESS), strict=True):
        rest = like[(like < COPY_LIKENESS) & (like > -1)]
        before = float(rest.max()) if rest.size else 0.0
        if 1.0 - like[i, j] > COPY_UNLIKE * (1.0 - before):
            continue  # the survey holds lines nearly as alike that are no copies
        copy, source = _which_is_copy(alike, int(i), int(j), [s.heading for s in group.strips])
        a, b = group.strips[copy].name, group.strips[source].name
        z = float(like[i, j] - before) / alike.noise
        words = (
            f"line {a} looks like a copy of line {b}: trace by trace they agree to {like[i, j]:.3f}, no other two "
            f"above {before:.2f}. Find the right file of {a}, or take it out"
        )
        found.append(OrderFinding("duplicate", (a, b), before, float(like[i, j]), z, words))
    return found


def _which_is_copy(alike: Alike, i: int, j: int, heading: Sequence[int]) -> tuple[int, int]:
    """Of two equal recordings the one that fits its neighbours worse is the copy."""

    def fit(k: int, other: int) -> float:
        near = [m for m in (k - 1, k + 1) if 0 <= m < len(heading) and m != other]
        return float(np.mean([alike.same[k, m] for m in near])) if near else 0.0

    return (i, j) if fit(i, j) <= fit(j, i) else (j, i)


@dataclass(slots=True)
class _Seat:
    """Which recording sits at which place, and whether it is turned."""

    who: Int64
    turned: Bool


def _rearranged(group: StripGroup, alike: Alike, use: Bool) -> list[OrderFinding]:
    n = len(group.strips)
    heading = np.array([s.heading for s in group.strips])
    names = [s.name for s in group.strips]
    seat = _Seat(np.arange(n), np.zeros(n, bool))
    found: list[OrderFinding] = []
    touched: set[int] = set()
    chances = n + n * (n - 1) / 2
    by_chance = float(np.sqrt(2 * np.log(chances / FALSE_ALARMS)))
    least_z = LEAST_Z if _usual(alike, use) >= CLEAR * alike.noise else by_chance
    for _ in range(n):
        best: tuple[float, float, float, float, tuple[int, ...]] | None = None
        turns: list[tuple[int, ...]] = [(i,) for i in range(n)]
        for places in turns + [(i, j) for i in range(n) for j in range(i + 1, n)]:
            if touched & set(places) or not all(use[seat.who[p]] for p in places):
                continue
            before, after, weight, square = _gain(alike, use, seat, _move(seat, heading, places), places)
            gain = (after - before) / max(weight, 1e-9)
            z = (after - before) / (alike.noise * np.sqrt(2 * max(square, 1e-9)))
            score = z - (1.0 if len(places) == 2 else 0.0)  # two changes need more than one
            if gain > LEAST_GAIN and z > least_z and (best is None or score > best[0]):
                best = (score, z, before / weight, after / weight, places)
        if best is None:
            return found
        _, z, before, after, places = best
        seat = _move(seat, heading, places)
        touched |= set(places)
        kind: Fault = "reversed" if len(places) == 1 else "swapped"
        who = tuple(names[p] for p in places)
        what = (
            f"line {who[0]} looks stored from its end to its start"
            if kind == "reversed"
            else f"lines {who[0]} and {who[1]} look exchanged"
        )
        words = (
            f"{what}: likeness to the neighbours {before:.2f} as labelled, {after:.2f} if so ({z:.1f} sigma)"
        )
        found.append(OrderFinding(kind, who, before, after, z, words))
    return found


def _move(seat: _Seat, heading: Int64, places: tuple[int, ...]) -> _Seat:
    """Turn the recording at one place, or exchange two; one walked the other way is turned by the exchange."""
    who, turned = seat.who.copy(), seat.turned.copy()
    if len(places) == 1:
        turned[places[0]] = ~turned[places[0]]
    else:
        i, j = places
        who[i], who[j] = who[j], who[i]
        turned[i], turned[j] = turned[j], turned[i]
        if heading[i] != heading[j]:
            turned[[i, j]] = ~turned[[i, j]]
    return _Seat(who, turned)


def _gain(
    alike: Alike, use: Bool, old: _Seat, new: _Seat, places: tuple[int, ...]
) -> tuple[float, float, float, float]:
    """Likeness to neighbours summed before and after, the sum of the weights and of their squares."""
    before = after = weight = square = 0.0
    n = len(use)
    done: set[tuple[int, int]] = set()
    for p in places:
        for apart, w in _APART:
            for q in (p - apart, p + apart):
                pair = (min(p, q), max(p, q))
                if not 0 <= q < n or pair in done or not (use[old.who[q]] and use[new.who[q]]):
                    continue
                done.add(pair)
                before += w * _between(alike, old, p, q)
                after += w * _between(alike, new, p, q)
                weight += w
                square += w * w
    return before, after, weight, square


def _between(alike: Alike, seat: _Seat, p: int, q: int) -> float:
    table = alike.same if seat.turned[p] == seat.turned[q] else alike.turned
    return float(table[seat.who[p], seat.who[q]])
