"""Crests of the volume judged by the lines themselves: does a pipe explain the traces in phase there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gridmap.features.ridges import RidgePoints
from gridmap.features.stack import Gather, StackSums, stack_pieces
from gridmap.model import Float64, VelocityModel

NOT_A_PIPE = 0.6
"""Weight of a crest whose traces a flat layer, or a wave through the air, explains better than a pipe."""


def judge_crests(
    crests: RidgePoints, gather: Gather, velocity: VelocityModel, cell_m: float, usual: float
) -> RidgePoints:
    """Weigh crests by the sum in phase of the traces near them.

    Parameters
    ----------
    crests : RidgePoints
        From `gridmap.features.ridges.ridge_points`.
    gather : Gather
        The traces.
    velocity : VelocityModel
        Behind the depths.
    cell_m : float
        Side of the cells that the crests were found on; places a third of it aside are tried too.
    usual : float
        From `usual_quality`.

    Returns
    -------
    RidgePoints
        At the best of the places tried. Strength: geometric mean of the ridge measure and of the sum's quality
        over its usual value at random places and directions in this survey, brought to one scale.
    """
    count = len(crests.strength)
    if not count:
        return crests
    normal = np.stack([-np.sin(crests.angle_rad), np.cos(crests.angle_rad)], axis=1)
    best = np.zeros(count)
    place = crests.xyz_m.copy()
    for aside in (0.0, -cell_m / 3, cell_m / 3):
        xyz = crests.xyz_m.copy()
        xyz[:, :2] += aside * normal
        sums = stack_pieces(gather, velocity, xyz, crests.angle_rad)
        value = sums.quality / usual * np.where(is_pipe(sums), 1.0, NOT_A_PIPE)
        better = value > best
        best[better], place[better] = value[better], xyz[better]
    return replace(crests, xyz_m=place, strength=np.sqrt(crests.strength * best * SCALE))


SCALE = 2.0
"""Brings the quality over its usual value, about 1 in noise, to the scale of the ridge measure."""


def usual_quality(xyz_m: Float64, gather: Gather, velocity: VelocityModel) -> float:
    """Median quality of the sum at random places of this survey, at the depths given, in random directions."""
    rng = np.random.default_rng(20)  # the same places every time
    count = min(3000, 10 * len(xyz_m))
    pick = [rng.integers(0, len(xyz_m), count) for _ in range(3)]
    xyz = np.stack([xyz_m[pick[k], k] for k in range(3)], axis=1)
    sums = stack_pieces(gather, velocity, xyz, rng.uniform(0, np.pi, count))
    return float(np.median(sums.quality[sums.count > 0])) if (sums.count > 0).any() else 1.0


def is_pipe(sums: StackSums) -> np.ndarray:
    """Say where the pipe's curve gathers more than the flat one and than that of light in air."""
    pipe = np.abs(sums.pipe)
    return np.asarray((pipe >= np.abs(sums.flat)) & (pipe >= np.abs(sums.air)))
