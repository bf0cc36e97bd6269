"""Scale of an uncalibrated wheel, line by line, from the ground itself: crossing lines and neighbours.

Every line is known by its start peg, its direction and the nominal trace interval alone. Its true position is

    x = start + direction * (offset + (1 + scale error) * nominal distance),

and offset (how well the start mark was held) and scale error are looked for with which it is most like its
neighbours and the lines that cross it. Neighbours started from the other end pin its far end, crossing lines pin it
all along. A line is also taken to end near the row of pegs that its neighbours started from, to 5 cm. Lines all
started from one end and crossed by none give scales relative to each other only.

What limits this is how well the start marks are held: 3 cm over 7 m are 0.4 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.model import CleanLine, Float32, Float64
from gridmap.place.crossings import all_tables, crossing_at
from gridmap.place.stagger import local_likeness
from gridmap.place.strips import Strip, StripGroup, even_strips

_STEP_M = 0.04
_EVERY = 5
_LAG_M = 1.0
_DRIFT_M = 0.3
_FAR_END_SD_M = 0.05
_DRIFT_COST = 0.2
_CROSS_M = 0.6
_SWEEPS = 8
_WIDE_SWEEPS = 3
_SAMPLES_A_WINDOW = 2.0
_SAMPLES_A_CROSSING = 12.0


@dataclass(frozen=True, slots=True)
class WheelScale:
    """The wheel of one line.

    Attributes
    ----------
    name : str
        The line.
    error : float
        True trace interval over nominal, less 1; NaN where it cannot be told.
    sd : float
        Standard deviation of `error`, from the width of the maximum.
    offset_m : float
        How far the first trace lay ahead of the start peg, metres.
    absolute : bool
        Whether the scale is tied to pegs at a known distance; else it is relative to the other lines only.
    evidence : float
        Logarithm of the likelihood above that of the nominal wheel.
    words : str
        One sentence for a person.
    """

    name: str
    error: float
    sd: float
    offset_m: float
    absolute: bool
    evidence: float
    words: str


def estimate_wheel_scale(
    lines: Sequence[CleanLine], interval_ns: float, *, start_sd_m: float = 0.03, scale_sd: float = 0.025
) -> list[WheelScale]:
    """Estimate the wheel scale of every line.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned; placed from their start pegs by the nominal trace interval.
    interval_ns : float
        Sample interval, nanoseconds.
    start_sd_m : float
        How well the start marks were held, one standard deviation, metres.
    scale_sd : float
        How far a wheel is off before it is calibrated, one standard deviation.

    Returns
    -------
    list of WheelScale
        In the order of `lines`.

    Notes
    -----
    Coordinate ascent: one line after the other takes the offset and the scale that suit best its two neighbours
    (windowed likeness, a steady drift left free as in `gridmap.place.stagger`), the lines that cross it and what
    is known beforehand; sweeps over all lines are repeated. A correlation r of n samples counts n r^2 / 2 of
    logarithm of likelihood.
    """
    groups = even_strips(lines, interval_ns, step_m=_STEP_M, margin_m=1.0)
    pegs = _Pegs(np.zeros(len(lines)), np.zeros(len(lines)))
    for group in groups:
        for strip in group.strips:
            pegs.start_m[strip.index] = float(lines[strip.index].xy_m[0] @ group.axis)
            pegs.heading[strip.index] = strip.heading
    sds = (start_sd_m, scale_sd)
    lookups = _lookups(groups, lines, pegs)
    state = np.zeros((len(lines), 2))
    for sweep in range(_SWEEPS):
        for look in lookups:
            own = state[look.index]
            if sweep < _WIDE_SWEEPS:
                o, e = np.meshgrid([0.0], np.arange(-0.06, 0.0601, 0.002), indexing="ij")
            else:
                fine = 0.004 if sweep < _WIDE_SWEEPS + 2 else 0.0015
                o, e = np.meshgrid(
                    own[0] + 6 * fine * np.arange(-3, 4), own[1] + fine * np.arange(-3, 4), indexing="ij"
                )
            score = look.score(o.ravel(), e.ravel(), state, pegs, sds)
            best = int(np.argmax(score))
            state[look.index] = o.ravel()[best], e.ravel()[best]
        if sweep >= _WIDE_SWEEPS:
            _settle(groups, state, pegs, sds)
    return _results(lines, groups, lookups, state, pegs, sds)


@dataclass(frozen=True, slots=True)
class _Pegs:
    """Start of every line along its group's axis, metres, and whether it was walked along (1) or against (-1)."""

    start_m: Float64
    heading: Float64

    def label(self, line: int, true_m: Float64, offset: Float64 | float, error: Float64 | float) -> Float64:
        """Place on the nominal axis of a line whose true place is given."""
        moved = true_m - self.heading[line] * offset + error * self.start_m[line]
        return np.asarray(moved / (1.0 + error), np.float64)


@dataclass(frozen=True, slots=True)
class _Lookup:
    """Likeness tables of one line against its neighbours and the lines that cross it."""

    index: int
    length_m: float  # nominal, to half a trigger beyond the last trace
    row_m: float  # from the start peg to the row of pegs that the lines walked back start from; NaN: none
    window_m: Float64
    sides: tuple[tuple[int, Float32], ...]  # other line, (lag, window, part)
    crossings: tuple[tuple[int, float, float, Float32], ...]  # other line, own place, its place, (own, other)

    def score(
        self, offset: Float64, error: Float64, state: Float64, pegs: _Pegs, sds: tuple[float, float]
    ) -> Float64:
        """Logarithm of the likelihood of trial offsets and scale errors, all (trial,)."""
        total = -0.5 * (offset / sds[0]) ** 2 - 0.5 * (error / sds[1]) ** 2
        if np.isfinite(self.row_m):
            total = total - 0.5 * ((offset + (1 + error) * self.length_m - self.row_m) / _FAR_END_SD_M) ** 2
        if self.sides:
            total = total + self._neighbours(offset, error, state, pegs)
        for other, own_at, other_at, table in self.crossings:
            middle = table.shape[0] // 2
            own = pegs.label(self.index, np.full(len(offset), own_at), offset, error)
            crossing = float(pegs.label(other, np.array(other_at), *state[other]))
            row = np.clip(np.rint((own - own_at) / _STEP_M).astype(int) + middle, 0, 2 * middle)
            column = int(np.clip(round((crossing - other_at) / _STEP_M) + middle, 0, 2 * middle))
            r = table[row, max(0, column - 1) : column + 2].mean(axis=1)
            total = total + 0.5 * _SAMPLES_A_CROSSING * r * np.abs(r)
        return np.asarray(total, np.float64)

    def _neighbours(self, offset: Float64, error: Float64, state: Float64, pegs: _Pegs) -> Float64:
        lags = len(self.sides[0][1]) // 2
        drift = round(_DRIFT_M / _STEP_M)
        window = np.arange(len(self.window_m))
        o, e = offset[:, None] * pegs.heading[self.index], error[:, None]
        true = self.window_m + o + e * (self.window_m - pegs.start_m[self.index])  # (trial, window)
        shifts = [
            np.rint((pegs.label(other, true, *state[other]) - self.window_m) / _STEP_M).astype(int) + lags
            for other, _ in self.sides
        ]
        best = np.full((*true.shape, self.sides[0][1].shape[2]), -1.0, np.float32)
        for d in range(-drift, drift + 1):
            mean = np.zeros_like(best)
            for k, (_, table) in enumerate(self.sides):
                mean += table[np.clip(shifts[k] + (d if k == 0 else -d), 0, 2 * lags), window]
            mean /= len(self.sides)
            np.maximum(best, mean - _DRIFT_COST * (d / drift) ** 2, out=best)
        weight = 0.5 * _SAMPLES_A_WINDOW * len(self.sides) * _EVERY * _STEP_M  # windows are about 1 m long
        return np.asarray(weight * (np.maximum(best, 0.0) ** 2).sum(axis=(1, 2)), np.float64)


def _settle(groups: Sequence[StripGroup], state: Float64, pegs: _Pegs, sds: tuple[float, float]) -> None:
    """Set what neighbours cannot see, a shift and a stretch common to a whole group, by the pegs alone, in place."""
    for group in groups:
        who = np.array([s.index for s in group.strips])
        middle = float(np.mean([pegs.start_m[who].min(), pegs.start_m[who].max()]))
        lever = pegs.heading[who] * (pegs.start_m[who] - middle)  # ahead of the peg for a stretch of 1
        design = np.concatenate([
            np.stack([pegs.heading[who], lever], axis=1) / sds[0],
            np.stack([np.zeros(len(who)), np.ones(len(who))], axis=1) / sds[1],
        ])  # fmt: skip
        left = np.concatenate([state[who, 0] / sds[0], state[who, 1] / sds[1]])
        shift, stretch = np.linalg.lstsq(design, -left, rcond=None)[0]
        state[who, 0] += pegs.heading[who] * shift + lever * stretch
        state[who, 1] += stretch


def _lookups(groups: Sequence[StripGroup], lines: Sequence[CleanLine], pegs: _Pegs) -> list[_Lookup]:
    lags = round(_LAG_M / _STEP_M)
    tables = all_tables(groups, _CROSS_M)
    where: dict[int, tuple[StripGroup, Strip]] = {s.index: (g, s) for g in groups for s in g.strips}
    out = []
    for group in groups:
        for i, strip in enumerate(group.strips):
            sides = tuple(
                (other.index, local_likeness(strip.values, other.values, lags, _STEP_M, _EVERY))
                for k in (i - 1, i + 1)
                if 0 <= k < len(group.strips)
                for other in (group.strips[k],)
            )
            crossings = []
            for (a, b), table in tables.items():
                if a == strip.index:
                    own_at, other_at = crossing_at(group, strip, *where[b])
                    crossings.append((b, own_at, other_at, table))
            back = [pegs.start_m[s.index] for s in group.strips if s.heading != strip.heading]
            row = abs(float(np.median(back)) - pegs.start_m[strip.index]) if back else float("nan")
            along = lines[strip.index].along_m
            length = float(
                along[-1] + 0.5 * np.median(np.diff(along))
            )  # the next trigger would lie beyond the row
            out.append(_Lookup(strip.index, length, row, group.position_m[::_EVERY], sides, tuple(crossings)))
    return out


def _results(
    lines: Sequence[CleanLine], groups: Sequence[StripGroup], lookups: Sequence[_Lookup], state: Float64, pegs: _Pegs,
    sds: tuple[float, float],
) -> list[WheelScale]:  # fmt: skip
    tied = {
        s.index: len({t.heading for t in g.strips}) > 1 or len(groups) > 1 for g in groups for s in g.strips
    }
    found: dict[int, WheelScale] = {}
    trial = np.arange(-0.03, 0.03001, 0.0005)
    for look in lookups:
        offset, error = state[look.index]
        score = look.score(np.full(len(trial), offset), error + trial, state, pegs, sds)
        weight = np.exp(score - score.max())
        mean = float((weight * trial).sum() / weight.sum())
        sd = float(np.sqrt((weight * (trial - mean) ** 2).sum() / weight.sum()))
        nothing = look.score(np.zeros(1), np.zeros(1), state, pegs, sds)[0]
        evidence = float(score.max() - nothing)
        known = sd < 0.4 * sds[1]
        name = lines[look.index].name
        kind = "of the wheel" if tied[look.index] else "of the wheel, relative to the other lines only,"
        words = (
            f"line {name}: scale {kind} {100 * error:+.2f} % (1 sigma {100 * sd:.2f} %)"
            if known
            else f"line {name}: the scale of its wheel cannot be told, it has too little in common with other lines"
        )
        found[look.index] = WheelScale(
            name,
            float(error) if known else float("nan"),
            sd,
            float(offset),
            tied[look.index],
            evidence,
            words,
        )
    return [found[i] for i in sorted(found)]
