"""Reversed, swapped and duplicated lines, found because they do not look like their neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.model import Bool, CleanLine, Float64, Int64
from gridmap.place.alike import Alike, copies_likeness, likeness
from gridmap.place.likeness_law import LikenessLaw, Seat
from gridmap.place.strips import StripGroup, strips_of, thinned

Fault = Literal["reversed", "swapped", "duplicate"]

FALSE_ALARMS = 0.05
"""False alarms in a sound survey that are put up with, of each kind."""
LEAST_SHARE = 0.25
"""Share of what such a change usually gains; less is some other fault."""
LEAST_PART = 1.0
"""Logarithm of likelihood that each of two exchanged lines must gain of its own."""
COPY_LIKENESS = 0.9
"""Trace by trace two recordings of neighbouring lines stay below this; a copy, even with noise added, above."""
COPY_UNLIKE = 0.5
"""What two copies differ by, over what the most alike of the other pairs differ by, at most."""
COPY_SIGMA = 4.0
"""And by how many robust deviations it is more alike than pairs of lines that lie as near."""
_APART = ((1, 1.0), (2, 0.5), (3, 0.35))
"""Neighbours so far apart, and their weight: what they say is not independent."""
_MOST_TIMES = 1.5
"""One pair of lines says no more than if it had gained this many times what is expected."""


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
        Mean likeness to the neighbours as labelled and as corrected (see `gridmap.place.alike.likeness`); for a
        duplicate the next most alike pair of the survey, trace by trace, and this pair.
    z : float
        Root of twice the logarithm of likelihood that is gained; for a duplicate the gain over the scatter of pairs.
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
    Each line is compared with its neighbours up to three apart. How alike lines 1, 2, ... apart usually are, and how
    alike lines are of which one is turned, is learnt from the survey, with the scatter of both. For one line turned or
    two exchanged this says what each likeness should be before and after; the gain is the logarithm of the likelihood
    of the change over that of the labels (normal deviates; what one pair may say is bounded, since tails are longer).
    The change that gains most is taken, then the next, as long as the gain beats the number of changes that were
    tried: ln(changes / 0.05), a false alarm in twenty sound surveys (Bonferroni). Where lines are too little alike for
    a reversed one to gain that much, the note says so.
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
        alike = likeness(group)
        pairs = _copies(group, thin, alike)
        if len(pairs) > max(1, len(group.strips) // 4):
            notes.append(f"{len(pairs)} pairs of lines are as alike as copies: even ground tells none apart")
            continue
        copies = [copy for copy, sure in pairs if sure]
        findings += copies
        out = {name for found in copies for name in found.lines[:1]}
        use = np.array([s.name not in out for s in group.strips])
        found, law = _rearranged(group, alike, use)
        if law.of_a_turn(_APART) < np.log(len(group.strips) / FALSE_ALARMS):
            notes.append("neighbouring lines have too little in common")
        else:
            findings += found
    findings.sort(key=lambda f: -f.z)
    note = f"order of the lines cannot be told: {'; '.join(dict.fromkeys(notes))}" if notes else ""
    return findings, note


def _copies(group: StripGroup, thin: Sequence[CleanLine], alike: Alike) -> list[tuple[OrderFinding, bool]]:
    """Pairs as alike as copies, and whether they stand out of pairs that lie as near."""
    like = copies_likeness([thin[s.index].traces for s in group.strips])
    found: list[tuple[OrderFinding, bool]] = []
    for i, j in zip(*np.nonzero(like >= COPY_LIKENESS), strict=True):
        rest = like[(like < COPY_LIKENESS) & (like > -1)]
        before = float(rest.max()) if rest.size else 0.0
        if 1.0 - like[i, j] > COPY_UNLIKE * (1.0 - before):
            continue  # the survey holds lines nearly as alike that are no copies
        copy, source = _which_is_copy(alike, int(i), int(j), [s.heading for s in group.strips])
        a, b = group.strips[copy].name, group.strips[source].name
        z = float(like[i, j] - before) / max(float(rest.std()) if rest.size > 1 else 0.0, 0.02)
        words = (
            f"line {a} looks like a copy of line {b}: trace by trace they agree to {like[i, j]:.3f}, no other two "
            f"above {before:.2f}. Find the right file of {a}, or take it out"
        )
        # Channels of an array are nearly as alike as copies, all of them.
        as_near = _as_near(like, group, int(i), int(j))
        sure = as_near.size < 8 or _stands_out(float(like[i, j]), as_near)
        found.append((OrderFinding("duplicate", (a, b), before, float(like[i, j]), z, words), sure))
    return found


def _as_near(like: Float64, group: StripGroup, i: int, j: int) -> Float64:
    """Likeness of the other pairs of lines that lie no farther apart than half as much again."""
    across = np.array([s.across_m for s in group.strips])
    apart = np.abs(across[:, None] - across[None])
    near = (apart <= 1.5 * apart[i, j] + 1e-9) & (like > -1)
    near[i, j] = False
    return np.asarray(like[near], np.float64)


def _stands_out(like: float, others: Float64) -> bool:
    """Say whether a likeness lies `COPY_SIGMA` robust deviations above others, by Fisher's transform (Fisher 1915)."""
    z = np.arctanh(np.clip(others, -0.9999, 0.9999))
    middle = float(np.median(z))
    scatter = 1.4826 * float(np.median(np.abs(z - middle)))
    return float(np.arctanh(min(like, 0.9999))) > middle + COPY_SIGMA * scatter


def _which_is_copy(alike: Alike, i: int, j: int, heading: Sequence[int]) -> tuple[int, int]:
    """Of two equal recordings the one that fits its neighbours worse is the copy."""

    def fit(k: int, other: int) -> float:
        near = [m for m in (k - 1, k + 1) if 0 <= m < len(heading) and m != other]
        return float(np.mean([alike.same[k, m] for m in near])) if near else 0.0

    return (i, j) if fit(i, j) <= fit(j, i) else (j, i)


def _rearranged(group: StripGroup, alike: Alike, use: Bool) -> tuple[list[OrderFinding], LikenessLaw]:
    n = len(group.strips)
    heading = np.array([s.heading for s in group.strips])
    names = [s.name for s in group.strips]
    seat = Seat(np.arange(n), np.zeros(n, bool))
    found: list[OrderFinding] = []
    touched: set[int] = set()
    changes: list[tuple[int, ...]] = [(i,) for i in range(n)]
    changes += [(i, j) for i in range(n) for j in range(i + 1, n)]
    prior = {1: float(np.log(n)), 2: float(np.log(max(1.0, n * (n - 1) / 2)))}
    while True:
        law = LikenessLaw.of(alike, use, seat)
        best: _Change | None = None
        lead: dict[tuple[int, ...], float] = {}
        for places in changes:
            if touched & set(places) or not all(use[seat.who[p]] for p in places):
                continue
            change = _weigh(alike, law, use, seat, _move(seat, heading, places), heading, places)
            ahead = change.gain - prior[len(places)]
            if ahead <= np.log(1 / FALSE_ALARMS) or change.after <= change.before:
                continue
            if min(change.parts) < LEAST_PART or change.gain < LEAST_SHARE * change.expected:
                continue
            lead[places] = ahead
            if len(places) == 2 and ahead < sum(lead.get((p,), 0.0) for p in places):
                continue  # both turned, each at its place, says more
            if best is None or ahead > lead[best.places]:
                best = change
        if best is None:
            return found, law
        seat = _move(seat, heading, best.places)
        touched |= set(best.places)
        who = tuple(names[p] for p in best.places)
        kind: Fault = "reversed" if len(who) == 1 else "swapped"
        what = (
            f"line {who[0]} looks stored from its end to its start"
            if kind == "reversed"
            else f"lines {who[0]} and {who[1]} look exchanged"
        )
        z = float(np.sqrt(2 * best.gain))
        likeness_words = f"{best.before:.3f} as labelled, {best.after:.3f} if so ({z:.1f} sigma)"
        words = f"{what}: likeness to the neighbours {likeness_words}"
        found.append(OrderFinding(kind, who, best.before, best.after, z, words))


def _move(seat: Seat, heading: Int64, places: tuple[int, ...]) -> Seat:
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
    return Seat(who, turned)


@dataclass(frozen=True, slots=True)
class _Change:
    """One line turned or two exchanged: mean likeness to the neighbours before and after, and what it gains.

    `gain` is a logarithm of likelihood, `parts` what of it the pairs with each of the places give, `expected` what it
    usually is.
    """

    places: tuple[int, ...]
    before: float
    after: float
    gain: float
    parts: tuple[float, ...]
    expected: float


def _weigh(
    alike: Alike, law: LikenessLaw, use: Bool, old: Seat, new: Seat, heading: Int64, places: tuple[int, ...]
) -> _Change:
    """Compare the likelihoods of all pairs that a change touches, as labelled and as changed."""
    before = after = weight = expected = 0.0
    parts = []
    n = len(use)
    for p in places:
        part = 0.0
        at = (
            p if len(places) == 1 else places[0] + places[1] - p
        )  # where the recording labelled p really lies
        for apart, w in _APART:
            for q in (p - apart, p + apart):
                if not 0 <= q < n or q in places or not (use[old.who[q]] and use[new.who[q]]):
                    continue
                one, two = _between(alike, old, p, q), _between(alike, new, p, q)
                before, after, weight = before + w * one, after + w * two, weight + w
                turned = len(places) == 1 or heading[at] != heading[p]
                step, variance = law.step(apart, None if turned else abs(at - q))
                most = _MOST_TIMES * abs(step)
                shown = max(-most, min(most, two - one))
                part += w * 2 * step * shown / variance
                expected += w * 2 * step * step / variance
        parts.append(part)
    weight = max(weight, 1e-9)
    return _Change(places, before / weight, after / weight, sum(parts), tuple(parts), expected)


def _between(alike: Alike, seat: Seat, p: int, q: int) -> float:
    table = alike.same if seat.turned[p] == seat.turned[q] else alike.turned
    return float(table[seat.who[p], seat.who[q]])
