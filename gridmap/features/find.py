"""All features of a survey: lines, outlines and points, and what was rejected, settled against each other."""

from __future__ import annotations

from collections.abc import Sequence

from gridmap.features.linear import find_linear
from gridmap.features.outline import find_outlines
from gridmap.features.settle import at_depth, settle
from gridmap.model import CleanLine, Features, RejectedCandidate, VelocityModel, Volume
from gridmap.velocity.peak_shift import PeakShift

LISTED_FROM = 0.5
"""Features less sure than this are kept with the rejected ones."""
OUTLINES_FROM = 1 / 3
"""Outlines are listed from here: on simulated ground that left fewer than one false outline in two surveys, and took in
weak but real ones; their confidence says which."""


def find_features(
    volume: Volume,
    lines: Sequence[CleanLine],
    interval_ns: float,
    velocity: VelocityModel,
    frequency_mhz: float,
    spacing_m: float,
    shallow_m: float,
    height_m: float = 0.0,
    separation_m: float = 0.0,
    shift: PeakShift | None = None,
) -> Features:
    """Find what lies in the ground.

    Parameters
    ----------
    volume : Volume
        Envelope against depth; NaN where blank.
    lines : sequence of CleanLine
        Conditioned lines.
    interval_ns : float
        Their sample interval, nanoseconds.
    velocity : VelocityModel
        Behind the volume's depths.
    frequency_mhz : float
        Nominal centre frequency, megahertz.
    spacing_m : float
        Usual distance between lines, metres; infinite for one line.
    shallow_m : float
        Depth down to which the direct wave's remains reach, metres.
    height_m, separation_m : float
        Height of the antennas above the ground; transmitter to receiver, metres.
    shift : PeakShift or None
        How far a known pulse peaks from its depth in this volume.

    Returns
    -------
    Features
        Surest first within each kind.
    """
    linear, rejected = find_linear(
        volume, lines, interval_ns, velocity, frequency_mhz, spacing_m, shallow_m, height_m, separation_m,
        shift,
    )  # fmt: skip
    listed = sorted(
        (f for f in linear if f.confidence >= LISTED_FROM), key=lambda f: (-f.confidence, -f.strength)
    )
    unsure = [
        RejectedCandidate("linear", f.xyz_m, f"too unsure to list: confidence {f.confidence:.2f}")
        for f in linear
        if f.confidence < LISTED_FROM
    ]
    outlines, no_outlines = find_outlines(
        volume, lines, interval_ns, velocity, frequency_mhz, spacing_m, shallow_m, height_m
    )
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
    return Features(
        linear=tuple(listed),
        outlines=tuple(sure),
        rejected=(*rejected, *no_outlines, *unsure, *told_twice),
    )
