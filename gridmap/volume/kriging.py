"""Local kriging: the weights with the least expected error, and that error."""

from __future__ import annotations

import numba
import numpy as np

from gridmap.model import Float32, Float64, Int64
from gridmap.threads import in_parts
from gridmap.volume.likeness import SHAPES, Likeness
from gridmap.volume.search import quadrant_neighbours
from gridmap.volume.sources import Sources
from gridmap.volume.weights import Weights

NEIGHBOURS = 24


def local_kriging(
    points: Sources,
    target_m: Float64,
    rows: Int64,
    likeness: Likeness,
    neighbours: int = NEIGHBOURS,
) -> tuple[Weights, Float32]:
    """Ordinary kriging of each place from the points around it.

    Parameters
    ----------
    points : Sources
        Where values are known, on which lines, with which noise.
    target_m : (target, 2) float64
        Where values are wanted, metres.
    rows : (row,) int64
        Which targets get weights, rising; the others stay empty.
    likeness : Likeness
        Covariance of the values.
    neighbours : int
        Points a place, the same number from each quadrant.

    Returns
    -------
    weights : Weights
        (target, point).
    sd : (target,) float32
        Standard error of the interpolated value over the standard deviation of the values, 0 to 1 or a little
        more; NaN for empty rows.

    Notes
    -----
    Ordinary kriging (Matheron 1963). Values hold what all lines see, what only lines of one direction see, what
    only one line sees, and noise; wanted is the first, and the mean of the second over the survey's directions. So a
    line does not stand out of the map for what it alone sees, a noisy line counts less, and two directions are
    merged by what each adds (cokriging of a sum: Journel and Huijbregts 1978, ch. 5 [memory]).
    """
    index, used = quadrant_neighbours(points.xy_m, target_m, rows, neighbours)
    value = np.zeros((len(rows), neighbours), np.float32)
    of_row = np.empty(len(rows), np.float32)
    shares = np.array([likeness.common, likeness.way, likeness.line, likeness.noise])
    given = (
        likeness.in_ranges(points.xy_m), points.line, points.way, points.noise, points.ways,
        likeness.in_ranges(target_m[rows]), index, used, SHAPES.index(likeness.shape), shares, value, of_row,
    )  # fmt: skip
    in_parts(lambda first, last: _krige(*given, first, last), len(rows), 64)
    sd = np.full(len(target_m), np.nan, np.float32)
    sd[rows] = of_row
    used_of = np.zeros(len(target_m), np.int64)
    used_of[rows] = used
    start = np.concatenate([[0], np.cumsum(used_of)]).astype(np.int64)
    keep = np.arange(neighbours) < used[:, None]
    return Weights(start, index[keep], value[keep]), sd


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _krige(  # type: ignore[no-untyped-def]
    point, line, way, noise, ways, target, index, used, order, shares, value, sd, first, last
):  # fmt: skip
    common, by_way, by_line, by_post = shares
    wanted = common + by_way / ways
    for row in range(first, last):
        n = used[row]
        x, y = target[row, 0], target[row, 1]
        a, b = np.empty((n, n)), np.empty(n)
        for i in range(n):
            p = index[row, i]
            b[i] = wanted * _shape(np.hypot(point[p, 0] - x, point[p, 1] - y), order)
            for k in range(i):
                q = index[row, k]
                share = common
                if way[p] == way[q]:
                    share += by_way
                    if line[p] == line[q]:
                        share += by_line
                a[i, k] = share * _shape(
                    np.hypot(point[p, 0] - point[q, 0], point[p, 1] - point[q, 1]), order
                )
            a[i, i] = common + by_way + by_line + by_post * noise[p]
        right = b.copy()
        _cholesky(a, n)
        one = np.ones(n)
        _solve(a, b, n)
        _solve(a, one, n)
        lack = (1.0 - b.sum()) / one.sum()
        gained = 0.0
        for i in range(n):
            w = b[i] + lack * one[i]
            value[row, i] = w
            gained += w * right[i]
        # Ordinary kriging variance: that of what is wanted, less what is known of it, plus the multiplier.
        sd[row] = np.sqrt(max(0.0, wanted - gained + lack))


@numba.njit(cache=True)
def _shape(h, order):  # type: ignore[no-untyped-def]
    if order == 0:
        return np.exp(-h)
    if order == 1:
        return (1.0 + h) * np.exp(-h)
    return (1.0 + h + h * h / 3.0) * np.exp(-h)


@numba.njit(cache=True)
def _cholesky(a, n):  # type: ignore[no-untyped-def]
    """Lower Cholesky factor in place (Golub and Van Loan, Matrix Computations, algorithm 4.2.1)."""
    for j in range(n):
        for k in range(j):
            f = a[j, k]
            for i in range(j, n):
                a[i, j] -= a[i, k] * f
        root = np.sqrt(a[j, j])
        for i in range(j, n):
            a[i, j] /= root


@numba.njit(cache=True)
def _solve(a, b, n):  # type: ignore[no-untyped-def]
    """Forward and back substitution with the lower factor, in place."""
    for i in range(n):
        for k in range(i):
            b[i] -= a[i, k] * b[k]
        b[i] /= a[i, i]
    for i in range(n - 1, -1, -1):
        for k in range(i + 1, n):
            b[i] -= a[k, i] * b[k]
        b[i] /= a[i, i]
