"""Steps between crests, and the cheapest paths along them: the inner loops of linking.

Crests are kept by squares of the ground as wide as the longest step, so that only those near are looked at.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from heapq import heappop, heappush

import numba as nb
import numpy as np

from gridmap.model import Float64, Int64


@dataclass(frozen=True, slots=True)
class Squares:
    """Points sorted by squares of the ground.

    Attributes
    ----------
    first : (square + 1,) int64
        First index into `member` of each square, row by row.
    member : (point,) int64
        Points, in rising order within a square.
    x_first_m, y_first_m, side_m : float
        Corner of the first square; side of all.
    rows, columns : int
        Squares along y and x.
    """

    first: Int64
    member: Int64
    x_first_m: float
    y_first_m: float
    side_m: float
    rows: int
    columns: int

    @classmethod
    def of(cls, xy_m: Float64, side_m: float) -> Squares:
        """Sort (point, 2) places, at least one, into squares of `side_m`."""
        low = xy_m.min(axis=0)
        column, row = ((xy_m - low) / side_m).astype(np.int64).T
        columns, rows = int(column.max()) + 1, int(row.max()) + 1
        number = row * columns + column
        member = np.argsort(number, kind="stable").astype(np.int64)
        first = np.searchsorted(number[member], np.arange(rows * columns + 1)).astype(np.int64)
        return cls(first, member, float(low[0]), float(low[1]), side_m, rows, columns)

    @property
    def table(self) -> tuple[Int64, Int64, float, float, float, int, int]:
        """All of it, as the compiled loops take it."""
        return self.first, self.member, self.x_first_m, self.y_first_m, self.side_m, self.rows, self.columns


@nb.njit(cache=True)
def step_table(  # type: ignore[no-untyped-def]
    squares, xyz, angle, strength, gap, dip, turn_deg, level
):
    """Directed steps between nodes 2 i + heading: first step of each node, target, cost.

    `squares` holds the points by `gap`; targets of a node are in rising order.
    """
    count = len(strength)
    first = np.zeros(2 * count + 1, np.int64)
    target = np.empty(0, np.int64)
    cost = np.empty(0)
    limit = math.sin(math.radians(turn_deg))
    square_first, member, x_first, y_first, side, rows, columns = squares
    # Once to count, once to fill.
    for fill in range(2):
        if fill == 1:
            first = np.concatenate((np.zeros(1, np.int64), np.cumsum(first[:-1])))
            target = np.empty(first[-1], np.int64)
            cost = np.empty(first[-1])
        put = first.copy()
        for i in range(count):
            column, row = int((xyz[i, 0] - x_first) / side), int((xyz[i, 1] - y_first) / side)
            for r in range(max(0, row - 1), min(rows, row + 2)):
                c0, c1 = max(0, column - 1), min(columns, column + 2)
                for k in range(square_first[r * columns + c0], square_first[r * columns + c1]):
                    j = member[k]
                    dz = xyz[j, 2] - xyz[i, 2]
                    if abs(dz) > dip * gap + 1e-6:
                        continue
                    dx, dy = xyz[j, 0] - xyz[i, 0], xyz[j, 1] - xyz[i, 1]
                    flat = math.sqrt(dx * dx + dy * dy)
                    if flat > gap or flat <= 1e-6 or abs(dz) > dip * flat + 1e-6:
                        continue
                    ci, si = math.cos(angle[i]), math.sin(angle[i])
                    turn_i = abs(dy * ci - dx * si) / flat
                    if turn_i > limit:
                        continue
                    cj, sj = math.cos(angle[j]), math.sin(angle[j])
                    turn_j = abs(dy * cj - dx * sj) / flat
                    if turn_j > limit:
                        continue
                    node = 2 * i + (0 if dx * ci + dy * si > 0 else 1)
                    if fill == 0:
                        first[node] += 1
                        continue
                    at = put[node]
                    other = 2 * j + (0 if dx * cj + dy * sj > 0 else 1)
                    bend = math.degrees(math.asin(min(1.0, max(turn_i, turn_j)))) / turn_deg
                    price = flat * ((level / min(strength[i], strength[j])) ** 2 + bend * bend) + 0.1 * abs(
                        dz
                    )
                    while at > first[node] and target[at - 1] > other:
                        target[at], cost[at] = target[at - 1], cost[at - 1]
                        at -= 1
                    target[at], cost[at] = other, price
                    put[node] += 1
    return first, target, cost


@nb.njit(cache=True)
def cheapest_path(  # type: ignore[no-untyped-def]
    first, target, cost, xyz, spare, source, reached, gained, before, done
):
    """Cheapest paths from `source` (Dijkstra 1959); nodes of the one that gains most distance for its cost.

    The last four are work space of one entry a node, infinite, 0, -1 and False before and after.
    """
    reached[source] = 0.0
    touched = [source]
    heap = [(0.0, source)]
    best, best_node = 0.0, source
    while len(heap) > 0:
        value, node = heappop(heap)
        if done[node]:
            continue
        done[node] = True
        if gained[node] - value > best:
            best, best_node = gained[node] - value, node
        if gained[node] - value < best - 1.0:
            continue
        for k in range(first[node], first[node + 1]):
            other = target[k]
            if done[other] or not spare[other // 2]:
                continue
            new = value + cost[k]
            if new < reached[other]:
                if before[other] < 0:
                    touched.append(other)
                reached[other] = new
                before[other] = node
                dx = xyz[other // 2, 0] - xyz[node // 2, 0]
                dy = xyz[other // 2, 1] - xyz[node // 2, 1]
                gained[other] = gained[node] + math.sqrt(dx * dx + dy * dy)
                heappush(heap, (new, other))
    steps = 1
    node = best_node
    while before[node] >= 0:
        node = before[node]
        steps += 1
    out = np.empty(steps, np.int64)
    node = best_node
    for i in range(steps - 1, -1, -1):
        out[i] = node
        node = before[node]
    for node in touched:
        reached[node] = np.inf
        gained[node] = 0.0
        before[node] = -1
        done[node] = False
    return out


@nb.njit(cache=True)
def take_beside(  # type: ignore[no-untyped-def]
    squares, xyz, angle, spare, line, beside, beside_depth, turn_deg, at_once, off2, nearest
):
    """Mark the points beside a finely cut line as used, where they lie at its depth and run its way.

    `squares` is of sides no shorter than `beside`; points within `at_once` in plan are taken whichever way they
    run. `off2` and `nearest`, one entry a point, are work space: infinite before and after, and anything.
    """
    square_first, member, x_first, y_first, side, rows, columns = squares
    limit = math.sin(math.radians(turn_deg))
    near = [np.int64(0) for _ in range(0)]
    for n in range(len(line)):
        column = math.floor((line[n, 0] - x_first) / side)
        row = math.floor((line[n, 1] - y_first) / side)
        for r in range(max(0, row - 1), min(rows, row + 2)):
            c0, c1 = max(0, column - 1), min(columns, column + 2)
            if c0 >= c1:
                continue
            for k in range(square_first[r * columns + c0], square_first[r * columns + c1]):
                j = member[k]
                if not spare[j]:
                    continue
                dx, dy = xyz[j, 0] - line[n, 0], xyz[j, 1] - line[n, 1]
                d2 = dx * dx + dy * dy
                if d2 < beside * beside and d2 < off2[j]:
                    if off2[j] == np.inf:
                        near.append(j)
                    off2[j] = d2
                    nearest[j] = n
    for j in near:
        n = nearest[j]
        if abs(xyz[j, 2] - line[n, 2]) <= beside_depth:
            ahead, behind = min(n + 1, len(line) - 1), max(n - 1, 0)
            dx, dy = line[ahead, 0] - line[behind, 0], line[ahead, 1] - line[behind, 1]
            bearing = math.atan2(dy, dx)
            if abs(math.sin(bearing - angle[j])) <= limit or off2[j] < at_once * at_once:
                spare[j] = False
        off2[j] = np.inf
