"""What is measured at a place where something small may lie."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from gridmap.features.point_stack import sum_places
from gridmap.features.stack import Gather, half_across_m, stack_pieces
from gridmap.model import Bool, Float64, Int64, VelocityModel

DIRECTIONS = 12
"""Directions in which a pipe is tried through the place."""
AROUND = 8
ASIDE_M = 0.4
"""Where the sum of something small must have fallen off in every direction: metres beside it."""
NEAR_SHARE = 0.6
"""Lines nearer than this share of the width that is summed are asked for the diffraction."""
LEAST_TRACES = 5
LEAST_COHERENCE, OUTRANKED = 0.3, 0.8
"""As for crossings of lines (`gridmap.features.crossings`)."""
LEAST_STANDING, LEAST_SCATTER = -9.0, 0.2
NEIGHBOURS = 30
"""Small things of like depth that say how strong the ground's own are there."""
LEAST_QUALITY, LEAST_ROUND, LEAST_CONTRAST = 2.0, 0.9, 1.2
"""What falls short of one of these is no small thing, but a piece of a line, a layer or noise."""


@dataclass(frozen=True, slots=True)
class PointMeasures:
    """Measures of each place; (place,) each.

    Attributes
    ----------
    quality : float64
        Quality of the sum in phase over its usual value in this survey.
    rounder : float64
        Quality of the sum over that of the best pipe through the place: above 1 where it is small in all directions;
        0 where quality falls short.
    contrast : float64
        Amplitude over the greatest of `AROUND` places `ASIDE_M` away at the same depth; 0 where roundness falls short.
    small : bool
        Whether quality, roundness and contrast are those of something small.
    standing : float64
        How far the logarithm of its amplitude stands above the median of the ground's own small things of like
        depth, in their scatter, less what the strongest of as many normal values would show: above 0 it is no
        ordinary stone of this ground. Only of what is small.
    over : float64
        Its amplitude over that median.
    asked, shown : int64
        Lines near it, and lines whose traces show its diffraction.
    ways : int64
        Directions of walking, 45 degrees and more apart, that showed it: 0, 1 or 2.
    amplitude : float64
        Of the sum, in the data's unit.
    """

    quality: Float64
    rounder: Float64
    contrast: Float64
    small: Bool
    standing: Float64
    over: Float64
    asked: Int64
    shown: Int64
    ways: Int64
    amplitude: Float64


def measure_places(
    xyz_m: Float64, gather: Gather, velocity: VelocityModel, wavelength_m: float, usual: float
) -> PointMeasures:
    """Measure all maxima of a survey.

    Parameters
    ----------
    xyz_m : (place, 3) float64
        Local x, y and depth, metres; all that the survey has, since they are measured against each other.
    gather : Gather
        The traces.
    velocity : VelocityModel
        Behind the depths.
    wavelength_m : float
        In the ground, metres.
    usual : float
        From `gridmap.features.crests.usual_quality`.
    """
    own = sum_places(gather, velocity, xyz_m)
    quality = own.quality / usual
    rounder, contrast = np.zeros(len(xyz_m)), np.zeros(len(xyz_m))
    # What falls short of one measure is not asked for the next.
    some = np.flatnonzero(quality >= LEAST_QUALITY)
    best = np.full(len(some), 1e-30)
    for k in range(DIRECTIONS):
        angle = np.full(len(some), k * np.pi / DIRECTIONS)
        best = np.maximum(best, stack_pieces(gather, velocity, xyz_m[some], angle, others=False).quality)
    rounder[some] = own.quality[some] / best
    some = some[rounder[some] >= LEAST_ROUND]
    turn = 2 * np.pi * np.arange(AROUND) / AROUND
    ring = np.stack([np.cos(turn), np.sin(turn), np.zeros(AROUND)], axis=1) * ASIDE_M
    beside = sum_places(gather, velocity, (xyz_m[some, None] + ring).reshape(-1, 3))
    side = np.where(beside.count > 4, beside.amplitude, 0.0).reshape(len(some), AROUND).max(axis=1)
    contrast[some] = own.amplitude[some] / np.maximum(side, 1e-30)
    small = contrast >= LEAST_CONTRAST
    asked, shown, ways = (np.zeros(len(xyz_m), np.int64) for _ in range(3))
    asked[small], shown[small], ways[small] = _ask_lines(xyz_m[small], gather, velocity, wavelength_m)
    standing, over = _standing(np.log(np.maximum(own.amplitude, 1e-30)), xyz_m[:, 2], small)
    return PointMeasures(quality, rounder, contrast, small, standing, over, asked, shown, ways, own.amplitude)


def _standing(height: Float64, depth_m: Float64, small: Bool) -> tuple[Float64, Float64]:
    """Stand of each small thing among those of like depth, and its strength over theirs."""
    order = np.flatnonzero(small)[np.argsort(depth_m[small], kind="stable")]
    count = len(order)
    out, over = np.full(len(height), LEAST_STANDING), np.ones(len(height))
    if count < 2:
        out[order] = 0.0
        return out, over
    extreme = float(norm.isf(1.0 / count))
    for i, k in enumerate(order):
        first = int(np.clip(i - NEIGHBOURS // 2, 0, max(0, count - NEIGHBOURS)))
        like = height[order[first : first + NEIGHBOURS]]
        middle = float(np.median(like))
        scatter = 1.4826 * float(np.median(np.abs(like - middle)))
        out[k] = (height[k] - middle) / max(scatter, LEAST_SCATTER) - extreme
        over[k] = np.exp(height[k] - middle)
    return out, over


def _ask_lines(
    xyz_m: Float64, gather: Gather, velocity: VelocityModel, wavelength_m: float
) -> tuple[Int64, Int64, Int64]:
    """Lines near each place, lines that show its diffraction better than displaced ones, and in how many ways."""
    place, line = _near(xyz_m, gather)
    if not len(place):
        none = np.zeros(len(xyz_m), np.int64)
        return none, none.copy(), none.copy()
    shift = 0.9 * wavelength_m
    used = [gather.way[:, gather.line == k] for k in range(int(gather.line.max()) + 1)]
    heading = np.array([math.atan2(*w.sum(axis=1)[::-1]) for w in used])
    # Displaced along the line, which is all that a line by itself can tell, and in depth.
    centres = [(0.0, 0.0), *((u, 0.0) for u in (-0.7, -0.4, 0.4, 0.7))]
    centres += [(u, z) for u in (-0.5, 0.0, 0.5) for z in (-shift, shift)]
    jitter = [(u, z) for u in (-0.05, 0.0, 0.05) for z in (-wavelength_m / 10, 0.0, wavelength_m / 10)]
    moves = np.array([(a + c, b + d) for a, b in centres for c, d in jitter])
    run = np.stack([np.cos(heading[line]), np.sin(heading[line])], axis=1)
    tried = np.concatenate(
        [xyz_m[place, None, :2] + moves[:, :1] * run[:, None], xyz_m[place, None, 2:] + moves[:, 1:]], axis=2
    ).reshape(-1, 3)
    sums = sum_places(gather, velocity, tried, np.repeat(line, len(moves)))
    good = (sums.count >= LEAST_TRACES) & (tried[:, 2] >= 0.05)
    score = np.where(good, sums.coherence, 0.0).reshape(len(place), len(centres), len(jitter)).max(axis=2)
    seen = (score[:, 0] >= LEAST_COHERENCE) & ((score[:, :1] > score[:, 1:]).mean(axis=1) >= OUTRANKED)
    asked = np.bincount(place, minlength=len(xyz_m))
    shown = np.bincount(place[seen], minlength=len(xyz_m))
    ways = np.zeros(len(xyz_m), np.int64)
    for k in np.flatnonzero(shown):
        turns = heading[line[seen & (place == k)]]
        apart = np.abs((turns - turns[0] + np.pi / 2) % np.pi - np.pi / 2)
        ways[k] = 2 if (apart > np.pi / 4).any() else 1
    return asked, shown, ways


def _near(xyz_m: Float64, gather: Gather) -> tuple[Int64, Int64]:
    """Pairs of a place and a line with traces within `NEAR_SHARE` of the width summed there."""
    reach = NEAR_SHARE * half_across_m(xyz_m[:, 2])
    found = gather.tree.query_ball_point(xyz_m[:, :2], reach)
    pairs = [(k, n) for k, traces in enumerate(found) for n in np.unique(gather.line[traces]).tolist()]
    both = np.array(pairs, np.int64).reshape(-1, 2)
    return both[:, 0], both[:, 1]
