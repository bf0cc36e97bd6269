"""Paths of least cost through crests that follow each other: one path a pipe, crossings kept apart by direction."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from gridmap.features.link_steps import Squares, cheapest_path, step_table, take_beside
from gridmap.features.ridges import RidgePoints
from gridmap.model import Float64, Int64

ALIKE_DEG = 35.0
"""Crests beside a path belong to it where their directions differ by no more than this."""
AT_ONCE_M = 0.1
"""And, whichever way they run, where they lie this near."""
FINE_M = 0.05


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
    squares = Squares.of(points.xyz_m[:, :2], max(rules.gap_m, rules.beside_m))
    table = step_table(
        squares.table, points.xyz_m, points.angle_rad, points.strength,
        rules.gap_m, rules.dip, rules.turn_deg, rules.level,
    )  # fmt: skip
    work = np.full(2 * count, np.inf), np.zeros(2 * count), np.full(2 * count, -1), np.zeros(2 * count, bool)
    beside = np.full(count, np.inf), np.zeros(count, np.int64)
    spare = np.ones(count, bool)
    paths: list[Int64] = []
    for seed in np.argsort(-points.strength, kind="stable"):
        if points.strength[seed] < rules.seed:
            break
        if not spare[seed]:
            continue
        ahead, back = (
            cheapest_path(*table, points.xyz_m, spare, 2 * int(seed) + way, *work) for way in (0, 1)
        )
        path = np.concatenate([back[:0:-1] // 2, ahead // 2])
        spare[path] = False
        take_beside(
            squares.table, points.xyz_m, points.angle_rad, spare, _finely(points.xyz_m[path]),
            rules.beside_m, rules.beside_depth_m, ALIKE_DEG, AT_ONCE_M, *beside,
        )  # fmt: skip
        if np.linalg.norm(np.diff(points.xyz_m[path, :2], axis=0), axis=1).sum() >= least_m:
            paths.append(path)
    return paths


def _finely(xyz_m: Float64) -> Float64:
    """Cut a path at points no more than `FINE_M` apart in plan."""
    fine = [xyz_m[:1]]
    for a, b in itertools.pairwise(xyz_m):
        n = max(1, math.ceil(float(np.hypot(*(b - a)[:2])) / FINE_M))
        fine.append(a + (b - a) * (np.arange(1, n + 1) / n)[:, None])
    return np.concatenate(fine)
