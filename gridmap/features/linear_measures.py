"""What is measured on a traced path, and which paths tell the same echo twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from gridmap.features.crests import is_pipe
from gridmap.features.crossings import Crossings
from gridmap.features.stack import Gather, stack_pieces
from gridmap.features.stack_states import quality_without
from gridmap.features.trace import Traced
from gridmap.model import Bool, Float64, VelocityModel

ASIDE_M = 0.35
"""Where a pipe's sum must have fallen off: metres beside it."""


@dataclass(frozen=True, slots=True)
class Measures:
    """Physical measures of one path.

    Attributes
    ----------
    quality : float
        Median quality of the sum in phase over its usual value in this survey. Of a path that no line crosses, without
        the line that runs nearest to it: a stripe is seen on that line alone, a pipe on those beside it too, later.
    coherence : float
        Median semblance.
    pipe_share : float
        Share of the path that the curve of a pipe explains better than a flat one or that of light in air.
    contrast : float
        Median amplitude of the sum over that of parallel paths `ASIDE_M` to either side, the greater one.
    seen_share : float
        Lines that show it over lines crossed; NaN where none is crossed.
    crossed, shown : int
        Lines crossed, and lines that show it.
    length_m : float
        In plan, metres.
    bend_deg : float
        Mean change of direction over a metre, degrees.
    amplitude : float
        Median amplitude of the sum, in the data's unit.
    ridge : float
        Median strength of the crests that it was traced from.
    """

    quality: float
    coherence: float
    pipe_share: float
    contrast: float
    seen_share: float
    crossed: int
    shown: int
    length_m: float
    bend_deg: float
    amplitude: float
    ridge: float


def measure_path(
    path: Traced, crossings: Crossings, ridge: float, gather: Gather, velocity: VelocityModel, usual: float
) -> Measures:
    """Measure one traced path."""
    normal = np.stack([-np.sin(path.angle_rad), np.cos(path.angle_rad)], axis=1)
    beside = []
    for sign in (-1.0, 1.0):
        xyz = path.xyz_m.copy()
        xyz[:, :2] += sign * ASIDE_M * normal
        sums = stack_pieces(gather, velocity, xyz, path.angle_rad, others=False)
        beside.append(np.where(sums.count >= 5, sums.amplitude, np.nan))
    with np.errstate(invalid="ignore"):
        side = np.fmax(beside[0], beside[1])
    own = path.sums.amplitude
    contrast = own / np.maximum(np.where(np.isfinite(side), side, own), 1e-12)
    turn = np.abs(np.diff(np.unwrap(path.angle_rad)))
    quality = path.sums.quality
    if not crossings.crossed:
        line = gather.nearest_line(path.xyz_m[:, :2])
        quality = quality_without(gather, velocity, path.xyz_m, path.angle_rad, line)
    return Measures(
        float(np.median(quality)) / usual,
        float(np.median(path.sums.coherence)),
        float(is_pipe(path.sums).mean()),
        float(np.median(contrast)),
        crossings.shown / crossings.crossed if crossings.crossed else float("nan"),
        crossings.crossed,
        crossings.shown,
        path.length_m,
        float(np.degrees(turn.sum())) / max(path.length_m, 0.2),
        float(np.median(own)),
        ridge,
    )


def boxes_meet(paths_m: Sequence[Float64], near_m: float) -> Bool:
    """Say for each two of several paths whether their boxes in plan come within `near_m`, (path, path) bool."""
    low = np.array([p[:, :2].min(axis=0) for p in paths_m]).reshape(-1, 2)
    high = np.array([p[:, :2].max(axis=0) for p in paths_m]).reshape(-1, 2)
    before = (high[:, None] < low[None] - near_m).any(axis=2)
    return np.asarray(~(before | before.T))


@dataclass(frozen=True, slots=True)
class Trail:
    """A path cut fine, (point, 3) metres, and a tree that finds its points in plan."""

    fine_m: Float64
    tree: cKDTree

    @classmethod
    def of(cls, path_m: Float64) -> Trail:
        """Cut a path into quarters of its steps."""
        at = np.linspace(0, len(path_m) - 1, 4 * len(path_m))
        fine = np.stack([np.interp(at, np.arange(len(path_m)), c) for c in path_m.T], axis=1)
        return cls(fine, cKDTree(fine[:, :2]))


def share_near(path_m: Float64, other: Trail, near_m: float) -> tuple[float, float]:
    """Share of a path that runs within `near_m` of another in plan, and how much deeper it lies there, metres."""
    off, nearest = other.tree.query(path_m[:, :2], distance_upper_bound=np.nextafter(near_m, np.inf))
    near = off <= near_m
    if not near.any():
        return 0.0, 0.0
    deeper = path_m[near, 2] - other.fine_m[nearest[near], 2]
    return float(near.mean()), float(np.median(deeper))
