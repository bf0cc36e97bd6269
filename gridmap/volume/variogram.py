"""From the data: how alike neighbouring values are, along lines, from line to line and from direction to direction."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import nnls
from scipy.spatial import cKDTree

from gridmap.model import Float32, Float64, Int64
from gridmap.volume.likeness import SHAPES, Likeness, Shape
from gridmap.volume.sources import Sources

PAIRS = 600_000
"""Pairs of posts compared: more change nothing that can be seen."""

FEWEST_PAIRS = 2_000
_MOST_WINDOWS = 12
_REACH_IN_LINES, _REACH_M = 6.0, 1.5
_CLIP_SD = 5.0
_BEARINGS_DEG = np.arange(0.0, 180.0, 22.5)
_RATIOS = (1.0, 1.5, 2.0, 3.0, 5.0)
_STEPS = 12


def fit_likeness(sources: Sources, values: Float32) -> Likeness:
    """Fit a covariance with direction to what the posts of a survey have in common.

    Parameters
    ----------
    sources : Sources
        Posts of all lines.
    values : (post, window) float32
        What is to be interpolated, such as the RMS of the envelope in windows of time.

    Returns
    -------
    Likeness
        The best by least squares over shapes, ranges from two posts to 1.5 m, five ratios of the ranges and eight
        bearings; the shares of each follow from non-negative least squares. Ranges that the pairs cannot tell
        (too few posts) are set to 0.3 m with a tenth of noise.

    Notes
    -----
    Experimental covariances of a random part of the posts with all posts within reach, in bins of the vector
    between them, apart for pairs on one line, on parallel lines and on lines of different direction (a linear model
    of coregionalization: Journel and Huijbregts 1978, ch. 3 [memory]). Values are brought to mean 0 and deviation 1
    in each window and direction and cut at five deviations, so that one strong target does not decide alone.
    """
    rough = Likeness("matern52", (0.3, 0.3), 0.0, 0.9)
    step_m, line_m = sources.step_m, sources.line_m
    reach_m = min(_REACH_M, _REACH_IN_LINES * line_m + 0.3) if math.isfinite(line_m) else _REACH_M
    kind, lag_m, like, count = _covariances(sources, values, max(step_m, 0.2 * min(line_m, 1.0)), reach_m)
    if count.sum() < FEWEST_PAIRS:
        return rough
    trust = count / (0.3 + np.hypot(*lag_m.T)) ** 2
    best = math.inf, rough
    for bearing in _BEARINGS_DEG:
        for ratio in _RATIOS if bearing == 0.0 else _RATIOS[1:]:
            for short in np.geomspace(2 * step_m, _REACH_M, _STEPS):
                for shape in SHAPES:
                    ranges = float(ratio * short), float(short)
                    trial = _with_shares(shape, ranges, float(bearing), kind, lag_m, like, trust)
                    if trial[0] < best[0]:
                        best = trial
    return best[1]


def _with_shares(
    shape: Shape,
    range_m: tuple[float, float],
    bearing_deg: float,
    kind: Int64,
    lag_m: Float64,
    like: Float64,
    trust: Float64,
) -> tuple[float, Likeness]:
    """Return the misfit and the likeness of one shape with the shares that suit it best."""
    s = Likeness(shape, range_m, bearing_deg, 1.0).at(lag_m)
    # The sums of squares of the three kinds of pairs give the normal equations of the nested shares.
    square = np.bincount(kind, trust * s * s, 3)
    cross = np.bincount(kind, trust * s * like, 3)
    seen_by = np.array([square.sum(), square[0] + square[1], square[0]])
    right = np.array([cross.sum(), cross[0] + cross[1], cross[0]])
    # Without pairs of two directions, or of two lines, their shares cannot be told from the common one.
    told = np.append(True, np.diff(seen_by) < 0)
    normal, right = np.minimum.outer(seen_by, seen_by)[told][:, told], right[told]
    root = np.linalg.cholesky(normal + 1e-9 * seen_by[0] * np.eye(len(right)))
    found, _ = nnls(root.T, np.linalg.solve(root, right))
    if found.sum() > 0.99:
        found *= 0.99 / found.sum()
    share = np.zeros(3)
    share[told] = found
    total = float((trust * like * like).sum())
    misfit = total - 2 * float(found @ right) + float(found @ normal @ found)
    return misfit, Likeness(shape, range_m, bearing_deg, *(float(v) for v in share))


def _covariances(
    sources: Sources, values: Float32, bin_m: float, reach_m: float
) -> tuple[Int64, Float64, Float64, Float64]:
    """Return kind (0 same line, 1 parallel, 2 other direction), mean lag, covariance and count of each bin."""
    z = _standard(sources, values[:, :: max(1, values.shape[1] // _MOST_WINDOWS)])
    rng = np.random.default_rng(0)
    order = rng.permutation(len(sources))
    tree = cKDTree(sources.xy_m)
    sums: dict[int, np.ndarray] = {}
    pairs = 0
    for a in range(0, len(order), 64):
        some = order[a : a + 64]
        near = tree.query_ball_point(sources.xy_m[some], reach_m)
        one = np.repeat(some, [len(n) for n in near])
        other = np.concatenate([np.asarray(n, np.int64) for n in near])
        one, other = one[one != other], other[one != other]
        lag = sources.xy_m[other] - sources.xy_m[one]
        lag *= np.where((lag[:, 1] < 0) | ((lag[:, 1] == 0) & (lag[:, 0] < 0)), -1.0, 1.0)[:, None]
        kind = np.where(
            sources.line[one] == sources.line[other],
            0,
            np.where(sources.way[one] == sources.way[other], 1, 2),
        )
        at = np.rint(lag / bin_m).astype(np.int64)
        key = (kind * 4096 + at[:, 0] + 2048) * 4096 + at[:, 1]
        product = np.einsum("pw,pw->p", z[one], z[other]) / z.shape[1]
        keys, where = np.unique(key, return_inverse=True)
        added = np.stack(
            [np.bincount(where, v) for v in (product, np.ones(len(key)), lag[:, 0], lag[:, 1])], 1
        )
        for k, row in zip(keys.tolist(), added, strict=True):
            sums[k] = sums[k] + row if k in sums else row
        pairs += len(key)
        if pairs > PAIRS:
            break
    table = np.array(list(sums.values())).reshape(-1, 4)
    kinds = np.array(list(sums), np.int64) // 4096**2
    count = table[:, 1]
    return kinds, table[:, 2:] / count[:, None], table[:, 0] / count, count


def _standard(sources: Sources, values: Float32) -> Float32:
    """Values of mean 0 and deviation 1 in each window and direction, cut at `_CLIP_SD`."""
    z = np.empty(values.shape, np.float32)
    for way in np.unique(sources.way):
        own = sources.way == way
        part = values[own].astype(np.float64)
        deviation = part.std(axis=0)
        part = (part - part.mean(axis=0)) / np.where(deviation > 0, deviation, 1.0)
        z[own] = np.clip(part, -_CLIP_SD, _CLIP_SD)
    return z
