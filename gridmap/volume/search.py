"""Neighbours of a place, the same number from every quarter of the circle; the same for any tile of the map."""

from __future__ import annotations

import math

import numba
import numpy as np

from gridmap.model import Float64, Int64
from gridmap.threads import in_parts

THIN = 0.3
"""Neighbours stand at least this share of their distance from the place apart, so that few reach far."""

LOOK_AT = 6
"""Candidates looked at for each neighbour wanted, nearest first."""

_PER_BUCKET = 4


def quadrant_neighbours(
    point_m: Float64, target_m: Float64, rows: Int64, neighbours: int
) -> tuple[Int64, Int64]:
    """Find neighbours of places among points.

    Parameters
    ----------
    point_m : (point, 2) float64
        Where values are known, metres.
    target_m : (target, 2) float64
        Where they are wanted, metres.
    rows : (row,) int64
        Which targets to look for.
    neighbours : int
        How many, a quarter of them from each quadrant where there are as many.

    Returns
    -------
    index : (row, neighbours) int64
        Points by distance, nearest first, equals in the order of the points.
    used : (row,) int64
        How many of each row were found.

    Notes
    -----
    A plain nearest-n would take all of them from one densely sampled line. Quadrant search is common practice (Isaaks
    and Srivastava 1989, ch. 14 [memory]); quadrants are turned by 45 degrees: ahead, behind, left and right of
    lines along x or y. Only distances and the order of points count, so that a part of the points that holds all
    within reach gives the same neighbours as the whole.
    """
    index = np.zeros((len(rows), neighbours), np.int64)
    used = np.zeros(len(rows), np.int64)
    if not len(point_m) or not len(rows):
        return index, used
    low = point_m.min(axis=0)
    extent = np.maximum(point_m.max(axis=0) - low, 1e-6)
    side = max(math.sqrt(extent[0] * extent[1] * _PER_BUCKET / len(point_m)), float(extent.max()) / 4000)
    columns, lines = (int(n) + 1 for n in extent / side)
    at = ((point_m - low) / side).astype(np.int64)
    bucket = np.minimum(at[:, 1], lines - 1) * columns + np.minimum(at[:, 0], columns - 1)
    order = np.argsort(bucket, kind="stable")
    start = np.searchsorted(bucket[order], np.arange(columns * lines + 1)).astype(np.int64)
    most = min(LOOK_AT * neighbours, len(point_m))
    given = point_m, target_m, rows, low, side, columns, lines, start, order, most, THIN, index, used
    in_parts(lambda a, b: _search(*given, a, b), len(rows), 64)
    return index, used


@numba.njit(cache=True, nogil=True)
def _nearest(x, y, point, low, side, columns, lines, start, order, most, found, square):  # type: ignore[no-untyped-def]
    """Fill in the `most` nearest points in order of distance, equals in the order of points, and squared distances.

    Kept in order while they come, near ones first: library sorts take seconds to compile.
    """
    column = min(max(math.floor((x - low[0]) / side), -1), columns)
    line = min(max(math.floor((y - low[1]) / side), -1), lines)
    n = 0
    for ring in range(columns + lines + 2):
        for j in range(line - ring, line + ring + 1):
            if j < 0 or j >= lines:
                continue
            step = 1 if abs(j - line) == ring else max(1, 2 * ring)
            for i in range(column - ring, column + ring + 1, step):
                if i < 0 or i >= columns:
                    continue
                b = j * columns + i
                for k in range(start[b], start[b + 1]):
                    p = order[k]
                    away = (point[p, 0] - x) ** 2 + (point[p, 1] - y) ** 2
                    at = n
                    if n == most:
                        at = n - 1
                        if away > square[at] or (away == square[at] and p > found[at]):
                            continue
                    else:
                        n += 1
                    while at > 0 and (
                        square[at - 1] > away or (square[at - 1] == away and found[at - 1] > p)
                    ):
                        square[at], found[at] = square[at - 1], found[at - 1]
                        at -= 1
                    square[at], found[at] = away, p
        # Whatever lies outside the rings seen so far is farther than this.
        safe = ring * side
        if n == most and square[most - 1] <= safe * safe:
            break
    return n


@numba.njit(cache=True, nogil=True)
def _search(  # type: ignore[no-untyped-def]
    point, target, rows, low, side, columns, lines, start, order, most, thin, index, used, first, last
):  # fmt: skip
    neighbours = index.shape[1]
    share = max(1, neighbours // 4)
    found, square = np.empty(most, np.int64), np.empty(most, np.float64)
    taken = np.empty(4, np.int64)
    for row in range(first, last):
        x, y = target[rows[row], 0], target[rows[row], 1]
        near = _nearest(x, y, point, low, side, columns, lines, start, order, most, found, square)
        for quadrant in range(4):
            taken[quadrant] = 0
        n = 0
        for c in range(near):
            if n == neighbours:
                break
            p = found[c]
            dx, dy = point[p, 0] - x, point[p, 1] - y
            quadrant = (1 if dx + dy > 0 else 0) + (2 if dx - dy > 0 else 0)
            if taken[quadrant] >= share:
                continue
            # A point next to one already taken says little new: the farther out, the wider the spread.
            apart = thin * thin * square[c]
            new = True
            for i in range(n):
                q = index[row, i]
                if (point[p, 0] - point[q, 0]) ** 2 + (point[p, 1] - point[q, 1]) ** 2 < apart:
                    new = False
                    break
            if new:
                taken[quadrant] += 1
                index[row, n] = p
                n += 1
        used[row] = n
