"""Paths of least cost through crests that follow each other: one path a pipe, crossings kept apart by direction."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numba as nb
import numpy as np
from scipy.spatial import cKDTree

from gridmap.features.ridges import RidgePoints
from gridmap.model import Float64, Int64


@dataclass(frozen=True, slots=True)
class Linking:
    """Limits within which crests are joined.

    Attributes
    ----------
    gap_m : float
        Longest step between two crests: gaps wider than this are not bridged.
    turn_deg : float
        Most by which a step may differ from the direction of either crest.
    dip : float
        Steepest change of depth over distance.
    seed : float
        Strength of a crest that may begin a path.
    level : float
        Strength at which a step costs as much as it gains; weaker ones end a path.
    beside_m : float
        Crests this near to a path, at its depth and in its direction, belong to it.
    beside_depth_m : float
        The same in depth.
    """

    gap_m: float
    turn_deg: float = 30.0
    dip: float = 0.25
    seed: float = 6.0
    level: float = 4.0
    beside_m: float = 0.3
    beside_depth_m: float = 0.15


def link_paths(points: RidgePoints, rules: Linking, least_m: float) -> list[Int64]:
    """Join crests into paths, the strongest first.

    Parameters
    ----------
    points : RidgePoints
        Crests.
    rules : Linking
        Limits.
    least_m : float
        Shorter paths are left out, metres.

    Returns
    -------
    list of (point,) int64
        Indices of the crests of each path, in order along it.

    Notes
    -----
    A crest is two nodes, one a heading; a step leads from node to node whose headings it meets within
    `turn_deg`. It costs its length times (level / strength)^2, and more the more it turns. From a seed the
    cheapest paths (Dijkstra 1959) are grown both ways; each is followed to the node where distance gained less
    cost is largest.
    """
    count = len(points.strength)
    if not count:
        return []
    start, target, cost = _steps(points, rules)
    spare = np.ones(count, bool)
    paths: list[Int64] = []
    for seed in np.argsort(-points.strength, kind="stable"):
        if points.strength[seed] < rules.seed:
            break
        if not spare[seed]:
            continue
        ahead, back = (
            _best_path(start, target, cost, points.xyz_m, spare, 2 * int(seed) + way) for way in (0, 1)
        )
        path = np.concatenate([back[:0:-1] // 2, ahead // 2])
        _take(points, path, spare, rules)
        if np.linalg.norm(np.diff(points.xyz_m[path, :2], axis=0), axis=1).sum() >= least_m:
            paths.append(path)
    return paths


def _steps(points: RidgePoints, rules: Linking) -> tuple[Int64, Int64, Float64]:
    """Directed steps between nodes 2i + heading as a compressed table: first step of each node, target, cost."""
    count = len(points.strength)
    pairs = cKDTree(points.xyz_m[:, :2]).query_pairs(rules.gap_m, output_type="ndarray")
    pairs = np.concatenate([pairs, pairs[:, ::-1]])
    step = points.xyz_m[pairs[:, 1]] - points.xyz_m[pairs[:, 0]]
    flat = np.hypot(step[:, 0], step[:, 1])
    good = (flat > 1e-6) & (np.abs(step[:, 2]) <= rules.dip * flat + 1e-6)
    pairs, step, flat = pairs[good], step[good], flat[good]
    bearing = np.arctan2(step[:, 1], step[:, 0])
    turns, ways = [], []
    for end in (0, 1):
        off = bearing - points.angle_rad[pairs[:, end]]
        along = np.cos(off) > 0
        turns.append(np.abs(np.sin(off)))
        ways.append(np.where(along, 0, 1))
    limit = math.sin(math.radians(rules.turn_deg))
    good = (turns[0] <= limit) & (turns[1] <= limit)
    node_from = (2 * pairs[:, 0] + ways[0])[good]
    node_to = (2 * pairs[:, 1] + ways[1])[good]
    weak = np.minimum(points.strength[pairs[:, 0]], points.strength[pairs[:, 1]])[good]
    bend = np.degrees(np.arcsin(np.maximum(turns[0], turns[1])))[good]
    cost = flat[good] * ((rules.level / weak) ** 2 + (bend / rules.turn_deg) ** 2) + 0.1 * np.abs(
        step[good, 2]
    )
    order = np.lexsort((node_to, node_from))
    first = np.searchsorted(node_from[order], np.arange(2 * count + 1))
    return first.astype(np.int64), node_to[order].astype(np.int64), cost[order].astype(float)


@nb.njit(cache=True)
def _best_path(first, target, cost, xyz, spare, source):  # type: ignore[no-untyped-def]
    """Cheapest paths from `source`; returns the nodes of the one that gains most distance for its cost."""
    count = len(first) - 1
    reached = np.full(count, np.inf)
    gained = np.zeros(count)
    before = np.full(count, -1)
    done = np.zeros(count, np.bool_)
    reached[source] = 0.0
    heap = [(0.0, source)]
    best, best_node = 0.0, source
    while len(heap) > 0:
        # The smallest entry: a binary heap kept by hand would be faster, lists of this length need none.
        at = 0
        for i in range(1, len(heap)):
            if heap[i][0] < heap[at][0]:
                at = i
        value, node = heap[at]
        heap[at] = heap[len(heap) - 1]
        heap.pop()
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
                reached[other] = new
                before[other] = node
                dx = xyz[other // 2, 0] - xyz[node // 2, 0]
                dy = xyz[other // 2, 1] - xyz[node // 2, 1]
                gained[other] = gained[node] + math.sqrt(dx * dx + dy * dy)
                heap.append((new, other))
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
    return out


def _take(points: RidgePoints, path: Int64, spare: np.ndarray, rules: Linking) -> None:
    """Mark the crests that belong to a path as used; `spare` is changed."""
    spare[path] = False
    xyz = points.xyz_m[path]
    fine = [xyz[:1]]
    for a, b in itertools.pairwise(xyz):
        n = max(1, math.ceil(float(np.hypot(*(b - a)[:2])) / 0.05))
        fine.append(a + (b - a) * (np.arange(1, n + 1) / n)[:, None])
    line = np.concatenate(fine)
    tree = cKDTree(line[:, :2])
    off, nearest = tree.query(points.xyz_m[:, :2], distance_upper_bound=rules.beside_m)
    near = np.flatnonzero(np.isfinite(off) & spare)
    at = nearest[near]
    ahead = line[np.minimum(at + 1, len(line) - 1)] - line[np.maximum(at - 1, 0)]
    bearing = np.arctan2(ahead[:, 1], ahead[:, 0])
    level = np.abs(points.xyz_m[near, 2] - line[at, 2]) <= rules.beside_depth_m
    alike = np.abs(np.sin(bearing - points.angle_rad[near])) <= math.sin(math.radians(35.0))
    spare[near[level & (alike | (off[near] < 0.1))]] = False
