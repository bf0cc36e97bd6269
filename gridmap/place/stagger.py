"""Zig-zag stagger: the along-line shift between lines walked one way and lines walked the other.

An oblique pipe also shifts from line to line, but steadily, while stagger changes sign with the walking direction.
So for every patch of ground the steady drift is left free and the alternating part is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.ndimage import gaussian_filter1d

from gridmap.model import CleanLine, Float32, Float64
from gridmap.place.strips import Strip, StripGroup, even_strips

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
    curves: list[Float64] = []
    pairs = 0
    trial_m: Float64 = np.zeros(0)
    for group in groups:
        runs = _opposite_runs(group.strips)
        drift = round(_DRIFT_M / group.step_m)
        trial = round(2 * search_m / group.step_m)
        trial_m = np.asarray(0.5 * group.step_m * np.arange(-trial, trial + 1), np.float64)
        for run in runs:
            pairs += len(run) - 1
            curves += _run_curves(run, group.step_m, drift, trial)
    if pairs < 3:
        return _unknown(pairs, 1.0, f"{pairs} neighbours walked in opposite directions, three are needed")
    curve = np.array(curves)
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
    """Correlate two strips in windows.

    Parameters
    ----------
    one, other : (position, sample) float32
        Mean 0 along the line.
    lags : int
        Largest lag, steps.
    step_m : float
        Step along the line, metres.
    every : int
        Windows are taken each so many steps.

    Returns
    -------
    (lag, window, part) float32
        Correlation, -1 to 1, of one(u) with other(u + lag), lag from -lags to lags; weak windows come out small.
    """
    count, samples = one.shape
    parts = min(_WINDOW_NS_SHARES, samples)
    width = samples // parts
    one, other = one[:, : parts * width], other[:, : parts * width]
    sd = _WINDOW_SD_M / step_m

    def energy(v: Float32) -> Float32:
        sums = (v * v).reshape(count, parts, width).sum(axis=2)
        return np.asarray(gaussian_filter1d(sums, sd, axis=0, mode="constant"))

    scale = np.sqrt(np.maximum(energy(one), 0) * np.maximum(energy(other), 0))
    heard = scale[scale > 0]
    usual = float(np.median(heard)) if heard.size else 1.0
    out = np.zeros((2 * lags + 1, count, parts), np.float32)
    a = one.reshape(count, parts, width)
    b = other.reshape(count, parts, width)
    for k in range(-lags, lags + 1):
        low, high = max(0, -k), count - max(0, k)
        if high > low:
            out[k + lags, low:high] = np.einsum("upw,upw->up", a[low:high], b[low + k : high + k])
    out = gaussian_filter1d(out, sd, axis=1, mode="constant")[:, ::every]
    return np.asarray(out / (scale[::every] + 0.3 * usual)[None], np.float32)


def _opposite_runs(strips: Sequence[Strip]) -> list[list[Strip]]:
    """Cut a group into runs in which each line was walked opposite to the one before."""
    runs: list[list[Strip]] = []
    for strip in strips:
        if runs and runs[-1][-1].heading != strip.heading:
            runs[-1].append(strip)
        else:
            runs.append([strip])
    return [run for run in runs if len(run) > 1]


def _run_curves(run: Sequence[Strip], step_m: float, drift: int, trial: int) -> list[Float64]:
    """Agreement against trial stagger, one curve for each stretch of up to six neighbouring pairs."""
    centre = drift + trial
    like = [local_likeness(a.values, b.values, centre, step_m) for a, b in pairwise(run)]
    length = min(_RUN, len(like))
    curves = []
    for q in range(len(like) - length + 1):
        curve = np.empty(2 * trial + 1)
        for s in range(-trial, trial + 1):
            mean = np.zeros_like(like[q][: 2 * drift + 1])
            for i in range(q, q + length):
                at = centre + run[i].heading * s
                mean += like[i][at - drift : at + drift + 1]
            curve[s + trial] = (np.maximum(mean.max(axis=0) / length, 0.0) ** 2).sum()
        curves.append(curve)
    return curves


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
