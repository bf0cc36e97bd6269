"""Outlines: flat bodies with an area, from regions of the volume to judged features."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from gridmap.features.apex import POLARITY_WORDS, polarity_of
from gridmap.features.ground import Ground
from gridmap.features.outline_judge import confidence, least_m, shape_is_none, why_not
from gridmap.features.outline_legs import POOR_FILL, fill, legs_of
from gridmap.features.outline_measure import (
    Body,
    Survey,
    echo_of,
    fit_region,
    measure,
    raise_to_top,
    strip_width_m,
)
from gridmap.features.outline_regions import Region, Slabs, cut_slabs, grow_regions
from gridmap.features.settle import at_depth
from gridmap.model import Bool, Float64, Grid, OutlineFeature, RejectedCandidate
from gridmap.velocity.top_depth import depth_to_top

SAME_PLACE = 0.4
"""A weaker body that shares this much of its area with a stronger one is part of it, or of what it causes."""
WORTH_TELLING = 3.0
"""A rejected candidate is listed where it stands this many times above the ground around it."""
WORTH_TIMING = 0.1
"""Less sure bodies keep the depth that the volume shows: nobody will act on them."""
STRIP_WIDTH = 1.35
"""A long region narrower than this many wavelengths is a line blurred by the resolution."""


def find_outlines(
    ground: Ground, spacing_m: float
) -> tuple[tuple[OutlineFeature, ...], tuple[RejectedCandidate, ...]]:
    """Find tanks, slabs, footings and the like.

    Parameters
    ----------
    ground, spacing_m
        As in `gridmap.features.find.find_features`.

    Returns
    -------
    outlines : tuple of OutlineFeature
        Whatever their confidence, surest first.
    rejected : tuple of RejectedCandidate
        What did not become one, and why.
    """
    bodies, rejected, survey = find_bodies(ground, spacing_m)
    found = [outline_feature(body, survey, ground) for body in bodies]
    found.sort(key=lambda f: (-f.confidence, -f.strength))
    return tuple(found), tuple(rejected)


def find_bodies(ground: Ground, spacing_m: float) -> tuple[list[Body], list[RejectedCandidate], Survey]:
    """Measure every candidate and sort out what is plainly none; arguments as in `find_outlines`.

    Returns
    -------
    bodies : list of Body
        Strongest first.
    rejected : list of RejectedCandidate
        With reasons.
    survey : Survey
        What the measuring needed, for whoever judges the bodies.
    """
    volume, lines, wavelength_m = ground.volume, ground.lines, ground.wavelength_m
    smooth_m = min(0.4 * spacing_m, 0.25 * wavelength_m) if "3D" in volume.quantity else 0.0
    slabs = cut_slabs(volume, wavelength_m, smooth_m, ground.shallow_m, float(volume.axis_values()[-1]))
    reach_m = np.array([[*ln.xy_m.min(axis=0), *ln.xy_m.max(axis=0)] for ln in lines], dtype=np.float64)
    survey = Survey(
        volume, slabs, lines, ground.interval_ns, ground.velocity, wavelength_m, ground.period_ns, reach_m
    )
    kept: list[tuple[Body, shapely.Polygon]] = []
    rejected: list[RejectedCandidate] = []
    done = np.zeros(slabs.values.shape, bool)
    for region, top in _candidates(slabs, volume.grid, wavelength_m, done):
        if (reason := _plainly_not(region, survey)) is not None:
            if region.plateau > WORTH_TELLING * region.ground:
                ring = _ring_of(region, volume.grid)
                rejected.append(_rejected(ring, float(slabs.depth_m[top]), reason))
            continue
        for leg in _legs_or_whole(region, volume.grid.cell_m):
            shape = fit_region(survey, leg)
            ring, depth_m = shape.ring_m(), float(slabs.depth_m[top])
            reason = shape_is_none(shape, survey)
            if reason is None:
                body = measure(survey, leg, shape, top)
                depth_m = body.depth_m
                polygon = shapely.Polygon(ring)
                reason = why_not(body, survey) or _in_plan_of(polygon, [p for _, p in kept])
                if reason is None:
                    kept.append((body, polygon))
            if reason is not None and region.plateau > WORTH_TELLING * region.ground:
                rejected.append(_rejected(ring, depth_m, reason))
    return [body for body, _ in kept], rejected, survey


def _candidates(slabs: Slabs, grid: Grid, wavelength_m: float, done: Bool) -> Iterator[tuple[Region, int]]:
    """Regions raised to their tops, each once; `done` remembers the cells of those given out."""
    for region in grow_regions(slabs, grid.cell_m, wavelength_m):
        if _area_m2(region, grid) < 0.5 * least_m(wavelength_m) ** 2:  # small, but perhaps not at its top
            continue
        best, top = raise_to_top(slabs, region, grid.cell_m)
        cells = done[best.slab][best.box()]
        if (cells & best.inside).sum() > 0.5 * best.inside.sum():
            continue
        cells |= best.inside
        yield best, top


def _legs_or_whole(region: Region, cell_m: float) -> list[Region]:
    """Take a region apart into the legs of a footing where it is no rectangle."""
    legs = legs_of(region, strip_width_m(region, cell_m) / cell_m) if fill(region) < POOR_FILL else []
    return legs or [region]


def _in_plan_of(polygon: shapely.Polygon, stronger: list[shapely.Polygon]) -> str | None:
    if any(polygon.intersection(p).area > SAME_PLACE * polygon.area for p in stronger):
        return "in the plan of a stronger body: its repeat, its base or its rim"
    return None


def _area_m2(region: Region, grid: Grid) -> float:
    return float(region.inside.sum()) * grid.cell_m**2


def _plainly_not(region: Region, survey: Survey) -> str | None:
    """Turn away, before anything is fitted, what is plainly a line or a layer."""
    cell_m = survey.volume.grid.cell_m
    area = _area_m2(region, survey.volume.grid)
    width = max(strip_width_m(region, cell_m), cell_m)
    if area < least_m(survey.wavelength_m) ** 2:
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
    return RejectedCandidate("outline", at_depth(ring_m, depth_m), reason)


def outline_feature(body: Body, survey: Survey, ground: Ground) -> OutlineFeature:
    """Turn a body into a feature with depth, polarity and confidence."""
    shape, crossed, sure = body.shape, body.crossed, confidence(body, survey)
    pick_sd = max(body.flat_m / math.sqrt(max(1, crossed.count)), 0.01 * survey.wavelength_m)
    echo = echo_of(survey, body) if sure > WORTH_TIMING else None
    peak_m = body.depth_m if echo is None else float(survey.velocity.depth_m(echo.top_ns))
    polarity = polarity_of(np.array([echo.peak]), ground.pulse_sign) if echo is not None else "unclear"
    depth, sd = depth_to_top(
        peak_m, survey.velocity, ground.frequency_mhz,
        height_m=ground.height_m, target="area", polarity=polarity, pick_sd_m=pick_sd, shift=ground.shift,
    )  # fmt: skip
    thickness, note = None, f"seen on {crossed.count} lines"
    if echo is not None and echo.base_ns is not None:
        thickness = float(survey.velocity.depth_m(echo.base_ns)) - peak_m
        note += "; thickness as if the ground's velocity held inside"
    if POLARITY_WORDS[polarity]:
        note += f"; {POLARITY_WORDS[polarity]}"
    return OutlineFeature(
        shape.ring_m(), float(depth), float(sd), thickness, shape.length_m, shape.width_m, shape.bearing_deg,
        shape.amplitude, sure, note, polarity,
    )  # fmt: skip
