"""What the placed lines themselves say of the survey: direction, spacing, trace interval."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from gridmap.model import Bool, Float64


@dataclass(frozen=True, slots=True)
class Spacing:
    """Measured spacing of a survey.

    Attributes
    ----------
    line_m : float
        Median distance from a line to its nearest neighbour of the same direction, metres; infinite for one line.
    trace_m : float
        Median distance between traces along a line, metres.
    both_directions : bool
        True where lines run along x and along y.
    """

    line_m: float
    trace_m: float
    both_directions: bool


def runs_along_y(xy_m: Float64) -> bool:
    """Say whether a line runs more along y than along x; `xy_m` is (trace, 2) metres."""
    dx, dy = np.abs(xy_m[-1] - xy_m[0])
    return bool(dy > dx)


def measure_spacing(lines_xy_m: Sequence[Float64]) -> Spacing:
    """Measure line spacing and trace interval from trace positions.

    Parameters
    ----------
    lines_xy_m : sequence of (trace, 2) float64
        Local positions of each line, metres.

    Returns
    -------
    Spacing
        Medians, so that one missing line or gap changes nothing.
    """
    along_y: Bool = np.array([runs_along_y(xy) for xy in lines_xy_m])
    trace = np.median(np.concatenate([np.hypot(*np.diff(xy, axis=0).T) for xy in lines_xy_m]))
    nearest: list[float] = []
    for group in ([i for i, y in enumerate(along_y) if y == turned] for turned in (False, True)):
        if len(group) < 2:
            continue
        thin = [lines_xy_m[i][:: max(1, len(lines_xy_m[i]) // 20)] for i in group]
        owner = np.repeat(np.arange(len(group)), [len(lines_xy_m[i]) for i in group])
        tree = cKDTree(np.concatenate([lines_xy_m[i] for i in group]))
        for k, points in enumerate(thin):
            nearest.append(_distance_to_others(tree, owner, k, points))
    line = float(np.median(nearest)) if nearest else float("inf")
    return Spacing(line, float(trace), bool(along_y.any() and (~along_y).any()))


def _distance_to_others(tree: cKDTree, owner: np.ndarray, own: int, points: Float64) -> float:
    """Median over points of the distance to the nearest trace of another line."""
    count = min(64, tree.n)
    while True:
        distance, index = tree.query(points, k=count)
        other = np.where(owner[np.minimum(index, tree.n - 1)] != own, distance, np.inf).min(axis=1)
        if np.isfinite(other).sum() * 2 >= len(points) or count >= tree.n:
            return float(np.median(other))
        count = min(4 * count, tree.n)
