"""Zig-zag stagger: the along-line shift between lines walked one way and lines walked the other.

An oblique pipe also shifts from line to line, but steadily, while stagger changes sign with the walking direction.
So for every patch of ground the steady drift is left free and the alternating part is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.model import Bool, CleanLine, Float32, Float64
from gridmap.place.strips import Strip, StripGroup, even_strips
from gridmap.place.windows import best_steady_drift, window_taps, windowed_products

LEAST_M = 0.01
"""A smaller stagger is below what pegs and wheel can promise, and is not corrected."""
FLOOR_SD_M = 0.003
"""What the scatter of start marks leaves uncertain whatever the data say, metres."""

_WINDOW_SD_M = 0.4
_WINDOW_NS_SHARES = 6
_DRIFT_M = 0.3
_RUN = 6
_WORST_SD_M = 0.02
_APART_M = 0.06
_RIVAL = 0.93
_LEAST_CONTRAST = 1.12
_LEAST_SEEN = 0.25
_PARTLY = 0.7
_AT_ONCE = 64


@dataclass(frozen=True, slots=True)
class Stagger:
    """An estimate of zig-zag stagger.

    Attributes
    ----------
    stagger_m : float
        How far the traces really lie ahead of their labels in the walking direction, metres; NaN where it
        cannot be told.
    sd_m : float
        Its standard deviation, from leaving out one block of line pairs after the other; NaN as above.
    pairs : int
        Neighbours walked in opposite directions that were compared.
    contrast : float
        Agreement of neighbours at the estimate over the median of all staggers tried; 1 is nothing.
    words : str
        One sentence for a person.
    """

    stagger_m: float
    sd_m: float
    pairs: int
    contrast: float
    words: str

    @property
    def known(self) -> bool:
        """Whether a number could be told."""
        return bool(np.isfinite(self.stagger_m))

    @property
    def significant(self) -> bool:
        """Whether it is above both 1 cm and three standard deviations."""
        return self.known and abs(self.stagger_m) > max(LEAST_M, 3 * self.sd_m)


def estimate_stagger(lines: Sequence[CleanLine], interval_ns: float, *, search_m: float = 0.3) -> Stagger:
    """Estimate the stagger of a zig-zag survey from the likeness of neighbours.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned, placed by their labels; any directions.
    interval_ns : float
        Sample interval, nanoseconds.
    search_m : float
        Largest stagger that is looked for, metres.

    Returns
    -------
    Stagger
        NaN with a reason where there are fewer than three opposite neighbours or nothing in common.

    Notes
    -----
    For each pair of neighbours the correlation against lag is taken in windows of about 1 m by a sixth of the
    record. Over runs of up to six pairs the lags are +-2 s + d: s the stagger, d the drift of whatever lies in
    that window. For each s the best d is taken (to 0.3 m a line), the square of the mean correlation is summed
    over windows, and the s with the largest sum is the estimate. The standard deviation is a block jackknife
    (Efron and Tibshirani 1993, chapter 11), times the root of six since runs overlap.
    """
    return stagger_of_groups(even_strips(lines, interval_ns), search_m=search_m)


def stagger_of_groups(groups: Sequence[StripGroup], *, search_m: float = 0.3) -> Stagger:
    """Estimate the stagger of lines that are on even axes already; see `estimate_stagger`."""
    pairs, curve, trial_m = _all_curves(groups, search_m)
    if pairs < 3:
        return _unknown(pairs, 1.0, f"{pairs} neighbours walked in opposite directions, three are needed")
    total = curve.sum(axis=0)
    best = int(np.argmax(total))
    contrast = float(total[best] / max(float(np.median(total)), 1e-12))
    if best in (0, len(total) - 1):
        return _unknown(pairs, contrast, f"no best place within {search_m:g} m")
    estimate = _peak(total, trial_m)
    sd = float(np.hypot(np.sqrt(_RUN) * _jackknife_sd(curve, trial_m), FLOOR_SD_M))  # runs overlap
    far = np.abs(trial_m - estimate) > _APART_M
    rival = float(total[far].max() / total[best]) if far.any() else 0.0
    if rival > _RIVAL:
        other = 100 * float(trial_m[far][np.argmax(total[far])])
        why = f"{100 * estimate:+.1f} and {other:+.1f} cm suit nearly as well"
        return _unknown(pairs, contrast, why)
    if contrast < _LEAST_CONTRAST:
        return _unknown(pairs, contrast, "neighbouring lines have too little in common")
    if not np.isfinite(sd):
        return _unknown(pairs, contrast, "too few neighbouring lines to check one against another")
    if sd > _WORST_SD_M:
        return _unknown(pairs, contrast, f"parts of the survey disagree by {100 * sd:.1f} cm")
    words = (
        f"zig-zag stagger {100 * estimate:+.1f} cm, 1 sigma {100 * sd:.1f} cm, from {pairs} pairs of neighbours: "
        "traces lie that far ahead of their labels in the walking direction"
    )
    return Stagger(estimate, sd, pairs, contrast, words)


def local_likeness(one: Float32, other: Float32, lags: int, step_m: float, every: int = 10) -> Float32:
    """Correlate two strips in windows: `neighbours_likeness` of one pair, (lag, window, part).

    Rows of zeros count as not seen; not only whole windows.
    """
    lines = np.stack([one, other])
    seen = (lines != 0).any(axis=2)
    return np.asarray(neighbours_likeness(lines, seen, lags, step_m, every, whole=False)[0], np.float32)


def neighbours_likeness(
    lines: Float32, seen: Bool, lags: int, step_m: float, every: int = 10, *, whole: bool = True
) -> Float32:
    """Correlate every strip with the next one in windows.

    Parameters
    ----------
    lines : (line, position, sample) float32
        Mean 0 along the line; 0 where not seen.
    seen : (line, position) bool
        Where a line has traces.
    lags : int
        Largest lag, steps.
    step_m : float
        Step along the line, metres.
    every : int
        Windows are taken each so many steps.
    whole : bool
        A window of which less than half was seen by both lines at any of the lags counts less at all of them:
        otherwise the ends of the lines, not the ground, would say which lag is best.

    Returns
    -------
    (pair, lag, window, part) float32
        Correlation, -1 to 1, of one(u) with other(u + lag), lag from -lags to lags; weak windows come out small.
    """
    parts = min(_WINDOW_NS_SHARES, lines.shape[2])
    taps = window_taps(_WINDOW_SD_M / step_m, every)
    count = lines.shape[1]
    like = np.empty((len(lines) - 1, 2 * lags + 1, -(-count // every), parts), np.float32)
    for first in range(0, len(like), _AT_ONCE):  # bounds the memory
        some = slice(first, first + _AT_ONCE + 1)
        sums = windowed_products(lines[some], seen[some], lags, parts, every, taps)
        for k in range(len(sums)):
            products, both = sums[k, 0], sums[k, 3]
            scale = np.sqrt(sums[k, 1] * sums[k, 2])
            heard = scale[lags][scale[lags] > 0]
            usual = np.float32(np.median(heard)) if heard.size else np.float32(1)
            part = products / (scale + np.float32(0.3) * usual * both + np.float32(1e-30))
            part *= both > _LEAST_SEEN
            if whole:
                part *= np.where(both.min(axis=0) > 2 * _LEAST_SEEN, np.float32(1), np.float32(_PARTLY))
            like[first + k] = part
    return like


def _opposite_runs(strips: Sequence[Strip]) -> list[list[Strip]]:
    """Cut a group into runs in which each line was walked opposite to the one before."""
    runs: list[list[Strip]] = []
    for strip in strips:
        if runs and runs[-1][-1].heading != strip.heading:
            runs[-1].append(strip)
        else:
            runs.append([strip])
    return [run for run in runs if len(run) > 1]


def _all_curves(groups: Sequence[StripGroup], reach_m: float) -> tuple[int, Float64, Float64]:
    """Count of pairs, (stretch, trial) agreement, and the trial staggers, metres."""
    curves: list[Float64] = []
    pairs = 0
    step_m = max(group.step_m for group in groups) if groups else 1.0
    trial = round(2 * reach_m / step_m)
    for group in groups:
        for run in _opposite_runs(group.strips):
            pairs += len(run) - 1
            curves += _run_curves(run, group.step_m, round(_DRIFT_M / group.step_m), trial)
    at = 0.5 * step_m * np.arange(-trial, trial + 1)
    return pairs, np.array(curves, np.float64), np.asarray(at, np.float64)


def _run_curves(run: Sequence[Strip], step_m: float, drift: int, trial: int) -> list[Float64]:
    """Agreement against trial stagger, one curve for each stretch of up to six neighbouring pairs."""
    length = min(_RUN, len(run) - 1)
    sizes = np.arange(-trial, trial + 1)
    lines, seen = np.stack([s.values for s in run]), np.stack([s.seen for s in run])
    like = neighbours_likeness(lines, seen, drift + trial, step_m)
    who = np.arange(len(like) - length + 1)[:, None] + np.arange(length)
    signs = np.array([s.heading for s in run])[who]
    shifts = drift + trial + sizes[None, :, None] * signs[:, None, :]
    shifts = np.repeat(shifts[..., None], like.shape[2], axis=3)
    best = best_steady_drift(like, who, shifts, np.ones(length, np.int64), drift)
    return list(best.sum(axis=2, dtype=np.float64))


def _peak(curve: Float64, at: Float64) -> float:
    """Abscissa of the maximum, by the parabola through three points."""
    k = int(np.argmax(curve))
    if not 0 < k < len(curve) - 1:
        return float(at[k])
    left, top, right = curve[k - 1 : k + 2]
    bend = left - 2 * top + right
    part = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return float(at[k] + part * (at[1] - at[0]))


def _jackknife_sd(curves: Float64, at: Float64) -> float:
    """Return the standard deviation of the peak, leaving out one block of curves after the other."""
    total = curves.sum(axis=0)
    blocks = np.array_split(np.arange(len(curves)), min(8, max(2, len(curves) // 2)))
    if len(curves) < 2:
        return float("inf")
    peaks = np.array([_peak(total - curves[b].sum(axis=0), at) for b in blocks if len(b) < len(curves)])
    n = len(peaks)
    return float(np.sqrt((n - 1) / n * ((peaks - peaks.mean()) ** 2).sum()))


def _unknown(pairs: int, contrast: float, why: str) -> Stagger:
    nan = float("nan")
    return Stagger(nan, nan, pairs, contrast, f"zig-zag stagger cannot be told: {why}")
