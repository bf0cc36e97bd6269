"""Outlines: flat bodies with an area, from regions of the volume to judged features."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from gridmap.features.outline_judge import LEAST_AREA_M2, confidence, why_not
from gridmap.features.outline_lines import Crossed
from gridmap.features.outline_measure import Body, Survey, measure, raise_to_top, strip_width_m
from gridmap.features.outline_regions import Region, cut_slabs, grow_regions
from gridmap.model import (
    CleanLine,
    Float64,
    Grid,
    OutlineFeature,
    RejectedCandidate,
    VelocityModel,
    Volume,
)
from gridmap.velocity.top_depth import depth_to_top

SAME_PLACE = 0.4
"""A weaker body that shares this much of its area with a stronger one is part of it, or of what it causes."""
WORTH_TELLING = 3.0
"""A rejected candidate is listed where it stands this many times above the ground around it."""
STRIP_WIDTH = 1.35
"""A long region narrower than this many wavelengths is a line blurred by the resolution."""


def find_outlines(
    volume: Volume,
    lines: Sequence[CleanLine],
    interval_ns: float,
    velocity: VelocityModel,
    frequency_mhz: float,
    spacing_m: float,
    shallow_m: float,
    height_m: float = 0.0,
) -> tuple[tuple[OutlineFeature, ...], tuple[RejectedCandidate, ...]]:
    """Find tanks, slabs, footings and the like.

    Parameters
    ----------
    volume, lines, interval_ns, velocity, frequency_mhz, spacing_m, shallow_m
        As in `gridmap.features.find.find_features`.
    height_m : float
        Height of the antennas above the ground, metres.

    Returns
    -------
    outlines : tuple of OutlineFeature
        Whatever their confidence, surest first.
    rejected : tuple of RejectedCandidate
        What did not become one, and why.
    """
    wavelength_m = velocity.mean_m_per_ns() * 1e3 / frequency_mhz
    smooth_m = min(0.4 * spacing_m, 0.25 * wavelength_m) if "3D" in volume.quantity else 0.0
    slabs = cut_slabs(volume, wavelength_m, smooth_m, shallow_m, float(volume.axis_values()[-1]))
    survey = Survey(volume, slabs, lines, interval_ns, velocity, wavelength_m, 1e3 / frequency_mhz)
    kept: list[tuple[Body, shapely.Polygon]] = []
    rejected: list[RejectedCandidate] = []
    for region in grow_regions(slabs, volume.grid.cell_m, wavelength_m):
        if _area_m2(region, volume.grid) < LEAST_AREA_M2 / 2:
            continue
        top = raise_to_top(slabs, region, volume.grid.cell_m)
        depth_m = float(slabs.depth_m[top.slab])
        if (reason := _plainly_not(top, survey)) is not None:
            if top.plateau > WORTH_TELLING * top.ground:
                rejected.append(_rejected(_ring_of(top, volume.grid), depth_m, reason))
            continue
        body = measure(survey, top)
        ring = body.shape.ring_m()
        polygon = shapely.Polygon(ring)
        reason = why_not(body, survey)
        if reason is None and any(polygon.intersection(p).area > SAME_PLACE * polygon.area for _, p in kept):
            reason = "in the plan of a stronger body: its repeat, its base or its rim"
        if reason is not None:
            if top.plateau > WORTH_TELLING * top.ground:
                rejected.append(_rejected(ring, body.depth_m, reason))
            continue
        kept.append((body, polygon))
    found = [_feature(body, survey, frequency_mhz, height_m) for body, _ in kept]
    found.sort(key=lambda f: (-f.confidence, -f.strength))
    return tuple(found), tuple(rejected)


def _area_m2(region: Region, grid: Grid) -> float:
    return float(region.inside.sum()) * grid.cell_m**2


def _plainly_not(region: Region, survey: Survey) -> str | None:
    """Turn away, before anything is fitted, what is plainly a line or a layer."""
    cell_m = survey.volume.grid.cell_m
    area = _area_m2(region, survey.volume.grid)
    width = max(strip_width_m(region, cell_m), cell_m)
    if area < LEAST_AREA_M2:
        return "too small for an outline"
    if area > 0.4 * survey.slabs.known.sum() * cell_m**2:
        return "fills too much of the survey: a layer boundary"
    if area > 4 * width**2 and width < STRIP_WIDTH * survey.wavelength_m:
        return "long and no wider than the resolution: a line"
    return None


def _ring_of(region: Region, grid: Grid) -> Float64:
    """Smallest rectangle about a region's cells, (4, 2) metres."""
    rows, columns = np.nonzero(region.inside)
    xy = np.stack(
        [
            grid.x_first_m + grid.cell_m * (columns + region.column),
            grid.y_first_m + grid.cell_m * (rows + region.row),
        ],
        axis=1,
    )
    around = shapely.MultiPoint(xy).buffer(grid.cell_m / 2, cap_style="square").minimum_rotated_rectangle
    return np.asarray(around.exterior.coords[:-1], dtype=np.float64)


def _rejected(ring_m: Float64, depth_m: float, reason: str) -> RejectedCandidate:
    return RejectedCandidate("outline", np.column_stack([ring_m, np.full(len(ring_m), depth_m)]), reason)


def _feature(body: Body, survey: Survey, frequency_mhz: float, height_m: float) -> OutlineFeature:
    """Turn a body into a feature with depth and confidence."""
    shape, crossed = body.shape, body.crossed
    pick_sd = max(body.flat_m / math.sqrt(max(1, crossed.count)), 0.01 * survey.wavelength_m)
    depth, sd = depth_to_top(
        body.depth_m, survey.velocity, frequency_mhz,
        height_m=height_m, target="area", polarity=crossed.polarity, pick_sd_m=pick_sd,
    )  # fmt: skip
    return OutlineFeature(
        shape.ring_m(), float(depth), float(sd), None, shape.length_m, shape.width_m, shape.bearing_deg,
        shape.amplitude, confidence(body, survey), _note(crossed),
    )  # fmt: skip


def _note(crossed: Crossed) -> str:
    words = {
        "reversed": "echo reversed, as of metal or of slower (wetter) ground",
        "same": "echo upright, as of stone, a void or faster ground",
        "unclear": "sign of the echo unclear",
    }[crossed.polarity]
    return f"seen on {crossed.count} lines; {words}"
