"""All features of a survey: lines, outlines and points, and what was rejected, settled against each other."""

from __future__ import annotations

from gridmap.features.ground import Ground
from gridmap.features.linear import find_linear
from gridmap.features.outline import find_outlines
from gridmap.features.points import find_points
from gridmap.features.settle import at_depth, settle
from gridmap.model import Features, LinearFeature, OutlineFeature, RejectedCandidate

LISTED_FROM = 0.5
"""Features less sure than this are kept with the rejected ones."""
OUTLINES_FROM = 1 / 3
"""Outlines are listed from here: on simulated ground that left fewer than one false outline in two surveys, and took in
weak but real ones; their confidence says which."""


def find_features(survey: Ground, spacing_m: float) -> Features:
    """Find what lies in the ground.

    Parameters
    ----------
    survey : Ground
        Volume, lines and velocity.
    spacing_m : float
        Usual distance between lines, metres; infinite for one line.

    Returns
    -------
    Features
        Surest first within each kind.
    """
    linear, outlines, rejected = find_areas_and_lines(survey, spacing_m)
    points, no_points = find_points(survey, linear, outlines)
    return Features(
        linear=tuple(linear),
        outlines=tuple(outlines),
        points=tuple(f for f in points if f.confidence >= LISTED_FROM),
        rejected=(*rejected, *no_points),
    )


def find_areas_and_lines(
    survey: Ground, spacing_m: float
) -> tuple[list[LinearFeature], list[OutlineFeature], list[RejectedCandidate]]:
    """Find what is long and what has an area, settled against each other; the third: what is not listed, and why."""
    linear, rejected = find_linear(survey, spacing_m)
    listed = sorted(
        (f for f in linear if f.confidence >= LISTED_FROM), key=lambda f: (-f.confidence, -f.strength)
    )
    unsure = [
        RejectedCandidate("linear", f.xyz_m, f"too unsure to list: confidence {f.confidence:.2f}")
        for f in linear
        if f.confidence < LISTED_FROM
    ]
    outlines, no_outlines = find_outlines(survey, spacing_m)
    unsure += [
        RejectedCandidate(
            "outline",
            at_depth(f.ring_m, f.depth_top_m),
            f"too unsure to list: confidence {f.confidence:.2f}",
        )
        for f in outlines
        if f.confidence < OUTLINES_FROM
    ]
    sure = [f for f in outlines if f.confidence >= OUTLINES_FROM]
    listed, sure, told_twice = settle(listed, sure)
    return listed, sure, [*rejected, *no_outlines, *unsure, *told_twice]
