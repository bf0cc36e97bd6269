"""Compact targets: something small, neither long nor wide, that stands out of the ground's own small echoes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from gridmap.features.apex import POLARITY_WORDS, apex_pulses, polarity_of
from gridmap.features.crests import usual_quality
from gridmap.features.ground import Ground
from gridmap.features.point_confidence import confidence, worth_looking
from gridmap.features.point_measures import PointMeasures, measure_places
from gridmap.features.point_settle import part_of
from gridmap.features.point_stack import sum_places
from gridmap.features.ridges import Plane, make_ready
from gridmap.features.stack import Gather
from gridmap.model import (
    Float64,
    LinearFeature,
    OutlineFeature,
    PointFeature,
    RejectedCandidate,
    VelocityModel,
)
from gridmap.velocity.top_depth import depth_to_top

LEAST_HEIGHT = 0.35
"""Logarithm of the strength over the usual level that a maximum must have to be looked into."""
MOST, MOST_PER_M2 = 400, 6.0
"""Strongest maxima looked into, the greater of these; there may be many more stones."""
APART_WAVES = 0.5
"""A maximum is the greatest value within this many wavelengths, in plan and in depth."""
WORTH_TELLING = 0.5
"""A candidate that would have been this sure is kept with the rejected ones where it is part of something else."""

BEYOND = "beyond the outermost lines, which cannot tell one side from the other"


@dataclass(frozen=True, slots=True)
class PointCandidates:
    """Maxima of the volume, moved to the strongest sum.

    Attributes
    ----------
    xyz_m : (place, 3) float64
        Local x, y and depth of the strongest sum, metres.
    measures : PointMeasures
        What was measured there.
    """

    xyz_m: Float64
    measures: PointMeasures


def point_candidates(ground: Ground) -> PointCandidates | None:
    """Find and measure the maxima of the volume; None where there is none."""
    wavelength_m, gather = ground.wavelength_m, ground.gather
    plane = make_ready(ground.volume, wavelength_m, 0.6 * ground.shallow_m)
    xyz = maxima(plane, APART_WAVES * wavelength_m)
    if not len(xyz):
        return None
    usual = usual_quality(xyz, gather, ground.velocity)
    xyz = settle_places(xyz, gather, ground.velocity, wavelength_m)
    return PointCandidates(xyz, measure_places(xyz, gather, ground.velocity, wavelength_m, usual))


def find_points(
    ground: Ground, linear: Sequence[LinearFeature], outlines: Sequence[OutlineFeature]
) -> tuple[list[PointFeature], list[RejectedCandidate]]:
    """Find boulders, small objects, bases of posts.

    Parameters
    ----------
    ground : Ground
        The survey.
    linear, outlines : sequences
        What is listed already: a point on it, below it or at its edge is part of it.

    Returns
    -------
    features : list of PointFeature
        Whatever their confidence, surest first; one for each place.
    rejected : list of RejectedCandidate
        What stood out, and why it is none.
    """
    candidates = point_candidates(ground)
    if candidates is None:
        return [], []
    xyz, m = candidates.xyz_m, candidates.measures
    sure = confidence(m)
    beyond = ground.gather.beyond_lines(xyz[:, :2])
    found: list[PointFeature] = []
    rejected: list[RejectedCandidate] = []
    for k in np.lexsort((-m.amplitude, -sure)):
        if not worth_looking(m)[k]:
            continue
        reason = BEYOND if beyond[k] else part_of(xyz[k], linear, outlines, found)
        if reason is None:
            found.append(place_feature(ground, candidates, int(k), float(sure[k])))
        elif reason and sure[k] >= WORTH_TELLING:
            rejected.append(RejectedCandidate("point", xyz[k : k + 1], reason))
    return found, rejected


def place_feature(ground: Ground, candidates: PointCandidates, k: int, sure: float) -> PointFeature:
    """Give a place its depth to the top, from the time of the pulse nearly above it, and words."""
    xyz_m, m = candidates.xyz_m[k], candidates.measures
    pulse = apex_pulses(ground.gather, ground.velocity, xyz_m[None], None, ground.period_ns)
    polarity = polarity_of(pulse.peak, ground.pulse_sign)
    time_ns = float(ground.velocity.two_way_ns(xyz_m[2])) + float(pulse.late_ns[0])
    top, sd = depth_to_top(
        float(ground.velocity.depth_m(time_ns)), ground.velocity, ground.frequency_mhz,
        height_m=ground.height_m, target="point", polarity=polarity, pick_sd_m=0.03 * ground.wavelength_m,
    )  # fmt: skip
    words = f"shown by {m.shown[k]} of the {m.asked[k]} lines that pass near it"
    if m.ways[k] == 2:
        words += ", in both directions"
    note = "; ".join(part for part in (words, POLARITY_WORDS[polarity]) if part)
    place = np.array([xyz_m[0], xyz_m[1], float(top)])
    return PointFeature(place, float(sd), float(m.over[k]), sure, note, polarity)


def maxima(plane: Plane, apart_m: float) -> Float64:
    """Places (place, 3) of the strongest maxima in three dimensions, metres, strongest first."""
    step = float(plane.depth_m[1] - plane.depth_m[0]) if len(plane.depth_m) > 1 else apart_m
    size = [2 * max(1, round(apart_m / d)) + 1 for d in (step, plane.cell_m, plane.cell_m)]
    values = np.where(plane.known, plane.values, -np.inf)
    top = (values >= ndimage.maximum_filter(values, size, mode="nearest")) & (values >= LEAST_HEIGHT)
    level, row, column = np.nonzero(top)
    most = max(MOST, round(MOST_PER_M2 * plane.known.sum() * plane.cell_m**2))
    order = np.argsort(-values[level, row, column], kind="stable")[:most]
    level, row, column = level[order], row[order], column[order]
    return np.stack(
        [plane.x_first_m + plane.cell_m * column, plane.y_first_m + plane.cell_m * row, plane.depth_m[level]],
        axis=1,
    )


def settle_places(xyz_m: Float64, gather: Gather, velocity: VelocityModel, wavelength_m: float) -> Float64:
    """Move each place to the strongest sum about it: a third of a wavelength aside, a quarter up and down."""
    for aside, deep, steps in (
        (wavelength_m / 3, wavelength_m / 4, 5),
        (wavelength_m / 12, wavelength_m / 16, 3),
    ):
        x, z = np.linspace(-aside, aside, steps), np.linspace(-deep, deep, steps)
        move = np.stack(np.meshgrid(x, x, z, indexing="ij"), axis=-1).reshape(-1, 3)
        places = (xyz_m[:, None] + move).reshape(-1, 3)
        sums = sum_places(gather, velocity, places)
        gain = np.where((sums.count > 4) & (places[:, 2] > 0.05), sums.amplitude, -1.0)
        xyz_m = xyz_m + move[gain.reshape(len(xyz_m), -1).argmax(axis=1)]
    return xyz_m
