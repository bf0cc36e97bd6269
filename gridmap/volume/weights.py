"""Interpolation as weights: found once from where the traces are, applied to every sample at once.

Two steps. `cell_means` joins the many traces of a cell into one point; `local_kriging` gives each cell of the
volume its weights on the points around it. Both are sparse row matrices, and `apply` is one compiled product.
"""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from scipy.spatial import cKDTree

from gridmap.model import Bool, Float32, Float64, Grid, Int64
from gridmap.threads import in_parts

THIN = 0.3
"""Neighbours of a cell stand at least this share of their distance from it apart, so that few reach far."""


@dataclass(frozen=True, slots=True)
class Weights:
    """A sparse matrix by rows: out[i] = sum over k of value[k] * data[index[k]], start[i] <= k < start[i+1].

    Attributes
    ----------
    start : (row + 1,) int64
        Where each row's entries begin.
    index : (entry,) int64
        Which input each entry takes.
    value : (entry,) float32
        Its weight. Rows sum to 1, or are empty: no input is near enough.
    """

    start: Int64
    index: Int64
    value: Float32

    def apply(self, data: Float32) -> Float32:
        """Weigh inputs (input, sample) float32 into outputs (row, sample) float32; empty rows are NaN."""
        data = np.ascontiguousarray(data)
        out = np.empty((len(self.start) - 1, data.shape[1]), np.float32)
        in_parts(lambda a, b: _apply(self.start, self.index, self.value, data, out, a, b), len(out), 64)
        return out


def cell_means(xy_m: Float64, grid: Grid, use: Bool | None = None) -> tuple[Float64, Weights]:
    """Join traces that share a cell.

    Parameters
    ----------
    xy_m : (trace, 2) float64
        Local positions of all traces, metres.
    grid : Grid
        Cells; traces outside it are left out.
    use : (trace,) bool or None
        Traces to use; None: all.

    Returns
    -------
    point_m : (point, 2) float64
        Mean position of the traces in each cell that has any.
    weights : Weights
        (point, trace): equal weights within a cell.
    """
    column = np.rint((xy_m[:, 0] - grid.x_first_m) / grid.cell_m).astype(np.int64)
    row = np.rint((xy_m[:, 1] - grid.y_first_m) / grid.cell_m).astype(np.int64)
    ok = (column >= 0) & (column < grid.columns) & (row >= 0) & (row < grid.rows)
    if use is not None:
        ok &= use
    trace = np.flatnonzero(ok)
    cell = row[trace] * grid.columns + column[trace]
    order = np.argsort(cell, kind="stable")
    trace, cell = trace[order], cell[order]
    first = np.flatnonzero(np.diff(cell, prepend=-1))
    start = np.append(first, len(cell)).astype(np.int64)
    count = np.diff(start)
    if not len(trace):
        return np.empty((0, 2)), Weights(np.zeros(1, np.int64), trace, np.empty(0, np.float32))
    point = np.add.reduceat(xy_m[trace], first, axis=0) / count[:, None]
    return point, Weights(start, trace, np.repeat(1.0 / count, count).astype(np.float32))


def local_kriging(
    point_m: Float64,
    grid: Grid,
    range_m: float,
    nugget: float,
    blank_m: float,
    neighbours: int = 24,
) -> Weights:
    """Ordinary kriging of each cell from the points around it, the same number from every quarter of the circle.

    Parameters
    ----------
    point_m : (point, 2) float64
        Where the inputs are, metres.
    grid : Grid
        Where the outputs are wanted; row by row, as `Grid.shape` flattened.
    range_m : float
        Length of the covariance (1 + h + h^2/3) exp(-h), h = distance / range (Matern, smoothness 5/2).
    nugget : float
        Share of the variance that is noise from point to point, above 0.
    blank_m : float
        Cells with no point this near stay empty.
    neighbours : int
        Points a cell, a quarter of them from each quadrant where there are as many: a plain nearest-n
        would take all of them from one densely sampled line.

    Returns
    -------
    Weights
        (cell, point).

    Notes
    -----
    Ordinary kriging (Matheron 1963); quadrant search is common practice (Isaaks and Srivastava 1989, ch. 14
    [memory]).
    """
    y, x = np.meshgrid(grid.y_m(), grid.x_m(), indexing="ij")
    target = np.stack([x.ravel(), y.ravel()], axis=1)
    tree = cKDTree(point_m)
    near, _ = tree.query(target, k=1, distance_upper_bound=blank_m)
    rows = np.flatnonzero(np.isfinite(near))
    count = min(4 * neighbours, len(point_m))
    index = np.empty((len(target), neighbours), np.int64)
    value = np.zeros((len(target), neighbours), np.float32)
    used = np.zeros(len(target), np.int64)
    block = 10_000
    for a in range(0, len(rows), block):
        part = rows[a : a + block]
        _, candidate = tree.query(target[part], k=count, workers=2)
        candidate = candidate.reshape(len(part), -1)
        candidate = np.ascontiguousarray(candidate)

        def solve(first: int, last: int, part: Int64 = part, candidate: Int64 = candidate) -> None:
            _krige(
                target, point_m, part, candidate, range_m, nugget, THIN, neighbours, index, value, used, first, last
            )  # fmt: skip

        in_parts(solve, len(part), 64)
    start = np.concatenate([[0], np.cumsum(used)]).astype(np.int64)
    keep = np.arange(neighbours) < used[:, None]
    return Weights(start, index[keep], value[keep])


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _krige(  # type: ignore[no-untyped-def]
    target, point, rows, candidate, length, nugget, thin, most, index, value, used, first, last
):  # fmt: skip
    share = max(1, most // 4)
    for r in range(first, last):
        row = rows[r]
        x, y = target[row, 0], target[row, 1]
        taken = np.zeros(4, np.int64)
        pick = np.empty(most, np.int64)
        n = np.int64(0)
        for c in range(candidate.shape[1]):
            j = candidate[r, c]
            dx, dy = point[j, 0] - x, point[j, 1] - y
            # Quadrants turned by 45 degrees: ahead, behind, left and right of lines along x or y.
            quadrant = (1 if dx + dy > 0 else 0) + (2 if dx - dy > 0 else 0)
            if taken[quadrant] >= share or n >= most:
                continue
            # A point next to one already taken says little new: the farther out, the wider the spread.
            apart = (thin * thin) * (dx * dx + dy * dy)
            new = True
            for i in range(n):
                ex, ey = point[j, 0] - point[pick[i], 0], point[j, 1] - point[pick[i], 1]
                if ex * ex + ey * ey < apart:
                    new = False
                    break
            if new:
                taken[quadrant] += 1
                pick[n] = j
                n += 1
        a = np.empty((n, n))
        b = np.empty(n)
        for i in range(n):
            p, q = point[pick[i], 0], point[pick[i], 1]
            b[i] = _covariance(np.hypot(p - x, q - y) / length) * (1.0 - nugget)
            for k in range(i + 1):
                h = np.hypot(p - point[pick[k], 0], q - point[pick[k], 1]) / length
                a[i, k] = _covariance(h) * (1.0 - nugget)
            a[i, i] = 1.0
        _cholesky(a, n)
        one = np.ones(n)
        _solve(a, b, n)
        _solve(a, one, n)
        lack = (1.0 - b.sum()) / one.sum()
        for i in range(n):
            index[row, i] = pick[i]
            value[row, i] = b[i] + lack * one[i]
        used[row] = n


@numba.njit(cache=True)
def _covariance(h):  # type: ignore[no-untyped-def]
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


@numba.njit(cache=True, nogil=True, fastmath=True)
def _apply(start, index, value, data, out, first, last):  # type: ignore[no-untyped-def]
    for row in range(first, last):
        target = out[row]
        if start[row] == start[row + 1]:
            target[:] = np.nan
            continue
        target[:] = 0.0
        for k in range(start[row], start[row + 1]):
            w = value[k]
            source = data[index[k]]
            for s in range(len(target)):
                target[s] += w * source[s]
