"""A smooth path through scattered fixes: the cubic smoothing spline as a Gaussian process, with its deviations.

The path's slope is taken for a random walk (an integrated Wiener process for the place), which makes the best
path the cubic smoothing spline of the fixes; one roughness serves both axes and is found by maximum
likelihood. Written as a banded least-squares problem: the state at a fix is place and slope. Fixes may share an
error that stays the same over a stretch, as those of a float solution do: then what they say of the shape is
kept, and what they say of the place counts for little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

from gridmap.model import Bool, Float64, Int64

ROUGHNESS = 10.0 ** np.arange(-7.0, 2.01, 0.5)
"""Growth of the slope's variance, per metre, that is tried: from a ruled line to a scrawl."""

_FLAT = 1e-12
_TUKEY = 4.685
_STIFF = 1e-4
_MEDIAN_MISS = {1: 0.6745, 2: 0.8326}
"""Median of a normal miss, root mean square over axes, for a deviation of 1 (normal and Rayleigh laws)."""


@dataclass(frozen=True, slots=True)
class Path:
    """A smooth path.

    Attributes
    ----------
    s_m : (knot,) float64
        Where the knots lie on the axis, strictly increasing.
    place : (knot, axis) float64
        Place at each knot.
    slope : (knot, axis) float64
        Change of place for a metre of the axis.
    covariance : (knot, 2, 2) float64
        Of place and slope at each knot, the same for every axis.
    step_covariance : (knot - 1, 2, 2) float64
        Of the state at a knot (rows) with the state at the next (columns).
    own_covariance, own_step_covariance : float64
        The same where the errors that stretches share were known.
    roughness : float
        As used, per metre.
    scale : float
        Root mean square of what the fixes miss the path by over what their deviations promise.
    shift : (stretch, axis) float64
        The error that each stretch shares.
    """

    s_m: Float64
    place: Float64
    slope: Float64
    covariance: Float64
    step_covariance: Float64
    own_covariance: Float64
    own_step_covariance: Float64
    roughness: float
    scale: float
    shift: Float64

    def at(self, s_m: Float64) -> Float64:
        """Return the place at each point of the axis, (point, axis); straight on beyond the ends."""
        k, u, d = self._between(s_m)
        h = _hermite(u, d)
        inside = (
            h[0][:, None] * self.place[k]
            + h[1][:, None] * self.slope[k]
            + h[2][:, None] * self.place[k + 1]
            + h[3][:, None] * self.slope[k + 1]
        )
        for index, out in ((0, s_m < self.s_m[0]), (-1, s_m > self.s_m[-1])):
            inside[out] = self.place[index] + (s_m[out] - self.s_m[index])[:, None] * self.slope[index]
        return np.asarray(inside)

    def slope_at(self, s_m: Float64) -> Float64:
        """Return the change of place for a metre of the axis, (point, axis)."""
        k, u, d = self._between(np.clip(s_m, self.s_m[0], self.s_m[-1]))
        g = (6 * u * (u - 1) / d, (1 - u) * (1 - 3 * u), 6 * u * (1 - u) / d, u * (3 * u - 2))
        return np.asarray(
            g[0][:, None] * self.place[k]
            + g[1][:, None] * self.slope[k]
            + g[2][:, None] * self.place[k + 1]
            + g[3][:, None] * self.slope[k + 1]
        )

    def sd_at(self, s_m: Float64, *, own: bool = False) -> Float64:
        """Return one standard deviation of the place, one axis, at each point of the axis, (point,).

        With `own`, what the errors that stretches share add is left out.
        """
        cov = self.own_covariance if own else self.covariance
        step = self.own_step_covariance if own else self.step_covariance
        k, u, d = self._between(s_m)
        h = np.stack(_hermite(u, d), axis=-1)
        left, right = h[:, :2], h[:, 2:]
        variance = (
            np.einsum("pi,pij,pj->p", left, cov[k], left)
            + np.einsum("pi,pij,pj->p", right, cov[k + 1], right)
            + 2 * np.einsum("pi,pij,pj->p", left, step[k], right)
            + self.roughness * d**3 * u**3 * (1 - u) ** 3 / 3
        )
        for index, out in ((0, s_m < self.s_m[0]), (-1, s_m > self.s_m[-1])):
            away = s_m[out] - self.s_m[index]
            c = cov[index]
            variance[out] = (
                c[0, 0] + 2 * away * c[0, 1] + away**2 * c[1, 1] + self.roughness * np.abs(away) ** 3 / 3
            )
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    def _between(self, s_m: Float64) -> tuple[np.ndarray, Float64, Float64]:
        k = np.clip(np.searchsorted(self.s_m, s_m, side="right") - 1, 0, len(self.s_m) - 2)
        d = self.s_m[k + 1] - self.s_m[k]
        return k, (s_m - self.s_m[k]) / d, d


def fit_path(
    s_m: Float64,
    place: Float64,
    sd_m: Float64,
    *,
    stretch: Int64 | None = None,
    stretch_sd_m: Float64 | None = None,
    outlier_sd: float = 4.0,
    roughness: float | None = None,
    nearest_m: float = 0.02,
) -> tuple[Path, Bool]:
    """Fit a smooth path and reject outliers.

    Parameters
    ----------
    s_m : (fix,) float64
        Where the fixes lie on the axis, not decreasing.
    place : (fix, axis) float64
        The fixes.
    sd_m : (fix,) float64
        One standard deviation of each, one axis, of what differs from fix to fix.
    stretch : (fix,) int64 or None
        Number of the stretch that a fix belongs to, from 0; None: none share an error.
    stretch_sd_m : (stretch,) float64 or None
        One standard deviation, one axis, of the error that all fixes of a stretch share; 0 where none.
    outlier_sd : float
        A fix that misses the path by more than this many deviations (of those stated, or of the scatter found
        where that is larger) is left out.
    roughness : float or None
        Per metre; None: found by maximum likelihood among `ROUGHNESS`.
    nearest_m : float
        Fixes nearer than this on the axis share a knot, at their weighted mean.

    Returns
    -------
    Path
        With two knots or more.
    (fix,) bool
        False for outliers.

    Raises
    ------
    ValueError
        If fewer than two fixes are apart from each other; the caller says which line.

    Notes
    -----
    Smoothing splines as Gaussian processes: Wahba (1978), J. R. Stat. Soc. B 40, 364-372; biweight: Tukey's, with
    its usual constant 4.685 (both from memory). The first pass is stiff and gives every fix the biweight of its
    miss, starting from the least absolute misses, so that a run of wrong fixes does not bend it.
    """
    if stretch is None or stretch_sd_m is None:
        stretch, stretch_sd_m = np.zeros(len(s_m), dtype=np.int64), np.zeros(1)
    fixes = _Fixes(s_m, place, sd_m, stretch, stretch_sd_m)
    weight = _first_weights(fixes, nearest_m)
    good: Bool = weight > 0
    path = None
    for _ in range(8):
        path = _fit(fixes, np.where(good, 1.0, 0.0), roughness, nearest_m)
        miss = fixes.miss(path)
        spread = max(1.0, float(np.median(miss[good] / sd_m[good])) / _MEDIAN_MISS[place.shape[1]])
        doubt = np.where(good, sd_m, np.hypot(sd_m, path.sd_at(s_m, own=True)))
        now = miss <= outlier_sd * spread * doubt
        if now.sum() < 2 or np.ptp(s_m[now]) < nearest_m or (now == good).all():
            break
        good = now
    assert path is not None
    return path, good


@dataclass(frozen=True, slots=True)
class _Fixes:
    """What a path is fitted to."""

    s_m: Float64
    place: Float64
    sd_m: Float64
    stretch: Int64
    stretch_sd_m: Float64

    def miss(self, path: Path) -> Float64:
        """Return what each fix misses the path by beside the error of its stretch: root mean square of axes, metres."""
        off = self.place - path.at(self.s_m) - path.shift[self.stretch]
        return np.asarray(np.sqrt((off**2).mean(axis=1)))


def _first_weights(fixes: _Fixes, nearest_m: float) -> Float64:
    """Weigh fixes by a stiff robust path: 0 for those far from it."""
    weight = np.ones(len(fixes.s_m))
    if len(weight) < 4:
        return weight
    for step in range(20):
        path = _fit(fixes, np.maximum(weight, 1e-6), _STIFF, nearest_m)
        miss = fixes.miss(path) / fixes.sd_m
        if step < 12:  # least absolute misses: weights 1 / miss
            weight = 1.0 / np.maximum(miss, 0.5)
        else:
            spread = max(1.0, float(np.median(miss)) / _MEDIAN_MISS[fixes.place.shape[1]])
            weight = np.clip(1 - (miss / (2 * _TUKEY * spread)) ** 2, 0.0, None) ** 2
    return weight if (weight > 0).sum() * 2 > len(weight) else np.ones(len(weight))


def _fit(fixes: _Fixes, weight: Float64, roughness: float | None, nearest_m: float) -> Path:
    """Best path for weights of the fixes, 0 for those left out."""
    used = weight > 0
    knot, knots = _knots(fixes.s_m[used], nearest_m)
    if len(knots) < 2:
        raise ValueError("fewer than two fixes apart from each other")
    trust = weight[used] / fixes.sd_m[used] ** 2
    middle = fixes.place[used].mean(axis=0)
    place = fixes.place[used] - middle
    shared = np.flatnonzero(fixes.stretch_sd_m > 0)
    member = (fixes.stretch[used, None] == shared).astype(np.float64) * trust[:, None]  # (fix, shared error)
    rows, axes = 2 * len(knots), place.shape[1]
    border = np.zeros((rows, len(shared)))
    np.add.at(border, 2 * knot, member)
    corner = np.diag(member.sum(axis=0) + 1.0 / fixes.stretch_sd_m[shared] ** 2)
    right = np.zeros((rows, axes))
    np.add.at(right, 2 * knot, trust[:, None] * place)
    below = member.T @ place
    total: Float64 = np.bincount(knot, trust, len(knots)).astype(np.float64)
    power = float((trust[:, None] * place**2).sum())
    best: tuple[float, float, Float64, Float64, Float64, Float64, Float64] | None = None
    for q in ROUGHNESS if roughness is None else (roughness,):
        try:
            factor = cholesky_banded(_information(knots, total, q), lower=True, check_finite=False)
            solved = cho_solve_banded((factor, True), np.column_stack([right, border]), check_finite=False)
            free, reach = solved[:, :axes], solved[:, axes:]
            schur = corner - border.T @ reach
            shift = np.linalg.solve(schur, below - border.T @ free)
        except np.linalg.LinAlgError:
            continue
        state = free - reach @ shift
        cost = power - float((right * state).sum() + (below * shift).sum())
        log_det = 2 * float(np.log(factor[0]).sum()) + float(np.linalg.slogdet(schur)[1])
        log_det += 2 * float(np.sum(np.log(q) + 2 * np.log(np.diff(knots))))
        misfit = axes * log_det + cost
        if best is None or misfit < best[0]:
            best = misfit, float(q), factor, state, shift, reach, schur
    if best is None:
        raise ValueError("fixes so near each other that no path can be told")
    _, q, factor, state, shift, reach, schur = best
    covariance, step = own, own_step = _inverse_blocks(factor)
    if len(shared):
        spread = np.linalg.solve(schur, reach.T).T
        left, right_ = spread.reshape(-1, 2, len(shared)), reach.reshape(-1, 2, len(shared))
        covariance = covariance + np.einsum("kim,kjm->kij", left, right_)
        step = step + np.einsum("kim,kjm->kij", left[:-1], right_[1:])
    shifts = np.zeros((len(fixes.stretch_sd_m), axes))
    shifts[shared] = shift
    off = place - state[2 * knot] - shifts[fixes.stretch[used]]
    freedom = max(1.0, used.sum() - 2.0 - len(shared)) * axes
    scale = float(np.sqrt((trust[:, None] * off**2).sum() / freedom))
    return Path(knots, state[::2] + middle, state[1::2], covariance, step, own, own_step, q, scale, shifts)


def _knots(s_m: Float64, nearest_m: float) -> tuple[Int64, Float64]:
    """Return the knot of each fix, and the knots; fixes that share a place on the axis share a knot, at their mean."""
    knot = np.zeros(len(s_m), dtype=np.int64)
    start = s_m[0] if len(s_m) else 0.0
    for index in range(1, len(s_m)):
        new = s_m[index] - start > max(nearest_m, 1e-6)
        knot[index] = knot[index - 1] + new
        start = s_m[index] if new else start
    return knot, np.bincount(knot, s_m) / np.maximum(np.bincount(knot), 1)


def _information(knots: Float64, trust: Float64, q: float) -> Float64:
    """Return the normal matrix in lower banded form, (4, 2 knot): fixes, and steps of an integrated Wiener process."""
    d = np.diff(knots)
    band = np.zeros((4, 2 * len(knots)))
    band[0, ::2] = trust
    band[0, 1::2] = _FLAT
    band[0, 0:-2:2] += 12 / (q * d**3)
    band[0, 1:-2:2] += 4 / (q * d)
    band[0, 2::2] += 12 / (q * d**3)
    band[0, 3::2] += 4 / (q * d)
    band[1, 0:-2:2] += 6 / (q * d**2)  # place and slope at the same knot
    band[1, 2::2] -= 6 / (q * d**2)
    band[2, 0:-2:2] = -12 / (q * d**3)  # place and the next place
    band[2, 1:-2:2] = 2 / (q * d)  # slope and the next slope
    band[3, 0:-3:2] = 6 / (q * d**2)  # place and the next slope
    band[1, 1:-1:2] = -6 / (q * d**2)  # slope and the next place
    return band


def _inverse_blocks(factor: Float64) -> tuple[Float64, Float64]:
    """Return the blocks on and beside the diagonal of the inverse, from its Cholesky factor (Takahashi's recursion)."""
    size = factor.shape[1]
    inverse = np.zeros((size, 4))  # [i, j - i] for j = i .. i + 3
    for i in range(size - 1, -1, -1):
        reach = min(3, size - 1 - i)
        below = factor[1 : reach + 1, i] / factor[0, i]
        for j in range(reach, 0, -1):
            total = 0.0
            for k in range(1, reach + 1):
                low, high = (j, k) if j <= k else (k, j)
                total -= below[k - 1] * inverse[i + low, high - low]
            inverse[i, j] = total
        inverse[i, 0] = 1 / factor[0, i] ** 2 - float(below @ inverse[i, 1 : reach + 1])
    on, cross, off = inverse[:, 0], inverse[:, 1], inverse
    covariance = np.stack([on[::2], cross[::2], cross[::2], on[1::2]], axis=-1).reshape(-1, 2, 2)
    step = np.stack([off[0:-2:2, 2], off[0:-2:2, 3], off[1:-2:2, 1], off[1:-2:2, 2]], axis=-1).reshape(
        -1, 2, 2
    )
    return covariance, step


def _hermite(u: Float64, d: Float64) -> tuple[Float64, Float64, Float64, Float64]:
    """Weights of place and slope at both knots in the cubic between them."""
    return (
        (1 + 2 * u) * (1 - u) ** 2,
        u * (1 - u) ** 2 * d,
        u**2 * (3 - 2 * u),
        u**2 * (u - 1) * d,
    )
