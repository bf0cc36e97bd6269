"""Scale of an uncalibrated wheel, line by line: from rows of pegs, from neighbours, and from the lines that cross.

Every line is known by its start peg, its direction and the nominal trace interval alone. Its true position is

    x = start + direction * (offset + (1 + scale error) * nominal distance),

and offset (how well the start mark was held) and scale error are unknown. What is known of them:

- the start mark was held to some centimetres, and a wheel is a few percent off before it is calibrated;
- where neighbours started from the other end, a line ends near their row of pegs, to some centimetres;
- a line lies where both its neighbours see the same ground (see `gridmap.place.wheel_likeness`);
- lines all started from one end lie where the lines that cross them see the same ground.

These are put together by least squares. The wheel is one wheel: line by line it is drawn to the scale that all lines
have in common, by as much as the lines agree on it.

What limits this is how well marks are held: 2.5 cm at both ends of 7 m are 0.5 %. Neighbours a quarter of a metre apart
bring it to about 0.3 %; neighbours that have nothing in common leave it where the marks put it. Lines all started from
one end and crossed by none give scales relative to each other only.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.model import Bool, CleanLine, Float64
from gridmap.place.strips import StripGroup, even_strips
from gridmap.place.wheel_likeness import STEP_M, EndShift, crossing_shifts, neighbour_shifts

_WIDE_M, _CROSS_M, _NEAR_M = 0.6, 0.4, 0.24
_ROUNDS, _LOOSE_ROUNDS = 3, 8
_STRAIGHT_SD_M = 0.02
_WORST_SD_M = 0.05
_NU = 4.0
_OTHERS_M = 0.12
_DAMP = 0.5
_FEWEST = 4
_LEAST_TOLD = 1 / 3
"""Share of the lines of a group of which neighbours must tell something."""
_EM_STEPS = 40
_LEAST_SCATTER = 0.002
_FIXED_SD = (0.005, 1e-4)
_WORST_SD = 0.01
"""A scale known no better than this is not told."""


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
        Standard deviation of `error`.
    offset_m : float
        How far the first trace lay ahead of the start peg, metres.
    absolute : bool
        Whether the scale is tied to pegs at a known distance; else it is relative to the other lines only.
    compared : int
        Lines that it was compared with, or crossed.
    words : str
        One sentence for a person.
    """

    name: str
    error: float
    sd: float
    offset_m: float
    absolute: bool
    compared: int
    words: str


def estimate_wheel_scale(
    lines: Sequence[CleanLine],
    interval_ns: float,
    *,
    free: Collection[str] | None = None,
    mark_sd_m: float = 0.03,
    scale_sd: float = 0.025,
) -> list[WheelScale]:
    """Estimate the wheel scale of every line.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned; placed from their start pegs by the nominal trace interval.
    interval_ns : float
        Sample interval, nanoseconds.
    free : collection of str or None
        Lines placed by a wheel alone; the others lie where they are. None: all.
    mark_sd_m : float
        How well marks were held at both ends, one standard deviation, metres.
    scale_sd : float
        How far a wheel is off before it is calibrated, one standard deviation.

    Returns
    -------
    list of WheelScale
        Of the free lines, in the order of `lines`.

    Notes
    -----
    Least squares with the weights of Student's t (4 degrees of freedom) on what neighbours say, solved again after
    the lines were moved. The common scale and the scatter about it are found by maximum likelihood and used in place of
    0 and `scale_sd`, the scatter 0.2 % at the least (shrinkage by empirical Bayes).
    """
    known = _Known.of(lines, interval_ns, free, mark_sd_m, scale_sd)
    state: Float64 = np.asarray(np.linalg.solve(*known.normal()), np.float64)
    shifts: list[EndShift] = []
    info = known.normal()[0]
    rounds = _LOOSE_ROUNDS if known.loose.any() else _ROUNDS
    for turn in range(rounds):
        groups = even_strips(_moved(lines, state), interval_ns, step_m=STEP_M, margin_m=1.0)
        shifts = []
        for group in groups:
            wide = turn == 0 and any(known.loose[s.index] for s in group.strips)
            shifts += neighbour_shifts(group, _WIDE_M if wide else _NEAR_M)
        if known.loose.any():
            reach = _WIDE_M if turn < _LOOSE_ROUNDS // 2 else _CROSS_M
            crossed = crossing_shifts(groups, reach, _OTHERS_M)
            shifts += [s for s in crossed if known.loose[s.index]]
        shifts = [s for s in shifts if s.others == () or np.trace(s.spread_m) < 2 * _WORST_SD_M**2]
        shifts = [s for s in shifts if s.others == () or s.index not in _unheard(groups, shifts, known.loose)]
        if turn == rounds - 1:
            known = known.shrunk(state, info)
        better, info = _solve(known, shifts, state)
        state += (_DAMP if known.loose.any() and turn else 1.0) * (better - state)
    return _results(lines, known, shifts, state, _inverse(info))


def scaled(line: CleanLine, wheel: WheelScale) -> CleanLine:
    """Return a line put where its wheel's scale and offset say; as it is where they cannot be told."""
    if not np.isfinite(wheel.error) or len(line.xy_m) < 2:
        return line
    way = line.xy_m[-1] - line.xy_m[0]
    ahead = way / np.hypot(*way)
    along = (1 + wheel.error) * line.along_m
    return replace(line, xy_m=line.xy_m[0] + (wheel.offset_m + along)[:, None] * ahead, along_m=along)


@dataclass(frozen=True, slots=True)
class _Known:
    """What is known without the data; state is (offset, error) of one line after the other."""

    start_m: Float64  # along the group's axis
    heading: Float64
    length_m: Float64  # nominal, of the traces
    trigger_m: Float64
    row_m: Float64  # from the start peg to the row of pegs the lines walked back start from; NaN: none
    offset_sd: Float64
    error_sd: Float64
    error_mean: Float64
    mark_sd_m: float
    free: Bool
    loose: Bool  # free, and no row of pegs ahead

    @classmethod
    def of(
        cls,
        lines: Sequence[CleanLine],
        interval_ns: float,
        free: Collection[str] | None,
        mark_sd_m: float,
        scale_sd: float,
    ) -> _Known:
        n = len(lines)
        start, heading, row = np.zeros(n), np.zeros(n), np.full(n, np.nan)
        groups: list[StripGroup] = even_strips(lines, interval_ns, step_m=STEP_M, margin_m=1.0)
        for group in groups:
            for s in group.strips:
                start[s.index] = float(lines[s.index].xy_m[0] @ group.axis)
                heading[s.index] = s.heading
            for s in group.strips:
                back = [start[t.index] for t in group.strips if t.heading != s.heading]
                if back:
                    row[s.index] = abs(float(np.median(back)) - start[s.index])
        length = np.array([float(ln.along_m[-1]) for ln in lines])
        trigger = np.array([float(np.median(np.diff(ln.along_m))) for ln in lines])
        is_free = np.array([free is None or ln.name in free for ln in lines])
        row[~is_free] = np.nan
        return cls(
            start, heading, length, trigger, row,
            np.where(is_free, mark_sd_m, _FIXED_SD[0]), np.where(is_free, scale_sd, _FIXED_SD[1]), np.zeros(n),
            mark_sd_m, is_free, is_free & ~np.isfinite(row),
        )  # fmt: skip

    def normal(self) -> tuple[Float64, Float64]:
        """Return normal matrix and right side of marks and rows of pegs.

        The first trigger comes up to one interval after the start mark, the last up to one before the far one: a
        quarter of an interval each on the mean, if the operator begins and ends with care.
        """
        n = len(self.start_m)
        matrix, right = np.zeros((2 * n, 2 * n)), np.zeros(2 * n)
        for i in range(n):
            quarter = 0.25 * self.trigger_m[i] * self.free[i]
            o, e = 2 * i, 2 * i + 1
            matrix[o, o] += 1 / self.offset_sd[i] ** 2
            right[o] += quarter / self.offset_sd[i] ** 2
            matrix[e, e] += 1 / self.error_sd[i] ** 2
            right[e] += self.error_mean[i] / self.error_sd[i] ** 2
            if np.isfinite(self.row_m[i]):
                row = np.array([1.0, self.length_m[i]])
                matrix[o : e + 1, o : e + 1] += np.outer(row, row) / self.mark_sd_m**2
                right[o : e + 1] += row * (self.row_m[i] - quarter - self.length_m[i]) / self.mark_sd_m**2
        return matrix, right

    def shrunk(self, state: Float64, info: Float64) -> _Known:
        """Take the common scale and the scatter of the lines about it for what is known beforehand.

        Both are found by maximum likelihood (the EM steps of a linear model with random effects), given the normal
        matrix of the last solution; `_EM_STEPS` steps only, which errs to the side of too large a scatter.
        """
        if self.free.sum() < _FEWEST:
            return self
        prior = np.zeros(len(state))
        prior[1::2] = 1 / self.error_sd**2
        data = info - np.diag(prior)
        right = info @ state
        right[1::2] -= prior[1::2] * self.error_mean
        scatter, mean = float(self.error_sd[self.free].min()), 0.0
        for _ in range(_EM_STEPS):
            prior[1::2] = np.where(self.free, 1 / scatter**2, prior[1::2])
            centre = np.where(self.free, mean, self.error_mean)
            down = right.copy()
            down[1::2] += prior[1::2] * centre
            covariance = _inverse(data + np.diag(prior))
            error = (covariance @ down)[1::2][self.free]
            own = np.diag(covariance)[1::2][self.free]
            mean = float(error.mean())
            scatter = max(float(np.sqrt(((error - mean) ** 2 + own).mean())), _LEAST_SCATTER)
        return replace(
            self,
            error_sd=np.where(self.free, scatter, self.error_sd),
            error_mean=np.where(self.free, mean, self.error_mean),
        )


def _unheard(groups: Sequence[StripGroup], shifts: Sequence[EndShift], loose: Bool) -> set[int]:
    """Lines of groups in which neighbours tell of too few lines: those few look sure by chance.

    Where pegs hold the lines nothing is lost; lines that have no row of pegs ahead need what little there is.
    """
    told = {s.index for s in shifts if s.others}
    out: set[int] = set()
    for group in groups:
        between = [s.index for s in group.strips[1:-1]]
        if len(told & set(between)) < _LEAST_TOLD * len(between):
            out |= {i for i in between if not loose[i]}
    return out


def _inverse(matrix: Float64) -> Float64:
    return np.asarray(np.linalg.inv(matrix), np.float64)


def _moved(lines: Sequence[CleanLine], state: Float64) -> list[CleanLine]:
    nothing = WheelScale("", 0.0, 0.0, 0.0, True, 0, "")
    return [
        scaled(ln, replace(nothing, error=float(state[2 * i + 1]), offset_m=float(state[2 * i])))
        for i, ln in enumerate(lines)
    ]


def _solve(known: _Known, shifts: Sequence[EndShift], state: Float64) -> tuple[Float64, Float64]:
    """Return the state that suits best what is known and what the data say, and the normal matrix there."""
    matrix, right = known.normal()
    right = right - matrix @ state
    designs, spreads = [], []
    for s in shifts:
        design = np.zeros((2, len(state)))
        for i, part in ((s.index, 1.0), *((j, -w) for j, w in s.others)):
            design[:, 2 * i] += part * known.heading[i]
            design[:, 2 * i + 1] += part * (s.at_m - known.start_m[i])
        designs.append(design)
        spreads.append(s.spread_m + _STRAIGHT_SD_M**2 * np.eye(2))
    weight: Float64 = np.ones(len(shifts))
    step: Float64 = np.zeros(len(state))
    info = matrix
    for _ in range(10):
        info, down = matrix.copy(), right.copy()
        for design, spread, shift, w in zip(designs, spreads, shifts, weight, strict=True):
            trust = w * design.T @ np.linalg.inv(spread)
            info += trust @ design
            down += trust @ shift.shift_m
        step = np.asarray(np.linalg.solve(info, down), np.float64)
        for k, (design, spread, shift) in enumerate(zip(designs, spreads, shifts, strict=True)):
            off = shift.shift_m - design @ step
            weight[k] = (_NU + 2) / (_NU + float(off @ np.linalg.solve(spread, off)))
    return state + step, info


def _results(
    lines: Sequence[CleanLine], known: _Known, shifts: Sequence[EndShift], state: Float64, covariance: Float64
) -> list[WheelScale]:
    n = len(lines)
    compared = np.zeros(n, int)
    crossed = np.zeros(n, bool)
    for s in shifts:
        compared[s.index] += max(1, len(s.others))
        crossed[s.index] |= not s.others
        for j, _ in s.others:
            compared[j] += 1
    error, spread = state[1::2].copy(), covariance[1::2, 1::2]
    relative = known.loose & ~crossed.any()
    if relative.any():  # what all have in common cannot be told, and is left out
        own = np.flatnonzero(relative)
        centre = np.eye(n)
        centre[np.ix_(own, own)] -= 1.0 / len(own)
        error[own] -= error[own].mean()
        spread = centre @ spread @ centre.T
    found = []
    for i in np.flatnonzero(known.free).tolist():
        name, sd = lines[i].name, float(np.sqrt(spread[i, i]))
        told = sd < _WORST_SD
        kind = "of the wheel, relative to the other lines only," if relative[i] else "of the wheel"
        words = (
            f"line {name}: scale {kind} {100 * error[i]:+.2f} % (1 sigma {100 * sd:.2f} %)"
            if told
            else f"line {name}: the scale of its wheel cannot be told, it has too little in common with other lines"
        )
        found.append(
            WheelScale(
                name, float(error[i]) if told else float("nan"), sd, float(state[2 * i]), not relative[i],
                int(compared[i]), words,
            )
        )  # fmt: skip
    return found
