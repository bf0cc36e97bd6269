"""From a region of a slab to a measured body: its top, its shape, how flat it lies, and what the lines say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from gridmap.features.outline_echo import Echo, read_echo
from gridmap.features.outline_fit import Shape, fit_shape
from gridmap.features.outline_lines import Crossed, look_below
from gridmap.features.outline_regions import Region, Slabs, grow_from
from gridmap.model import CleanLine, Float32, Float64, VelocityModel, Volume

TOP_SHARE = 0.35
"""The top is the shallowest echo of at least this share of the strongest in the column."""
LEAST_TOP = 2.0
"""And of at least this many times the usual level."""
AS_CLEAR = 0.5
"""The plan is taken at the top where the contrast there is at least this share of the strongest."""
PARTED = 0.85
"""Between two echoes the amplitude falls at least to this share of the upper one."""
ROUND = 1.6
"""Longer than this many widths is not tried as an ellipse."""
MARGIN_M = 0.5
"""Ground around a region that is fitted with it, metres."""


@dataclass(frozen=True, slots=True)
class Survey:
    """What every step needs to know of the survey; lengths in metres.

    `period_ns` is a period of the centre frequency, `reach_m` the (line, 4) least x, y and greatest x, y of each line.
    """

    volume: Volume
    slabs: Slabs
    lines: Sequence[CleanLine]
    interval_ns: float
    velocity: VelocityModel
    wavelength_m: float
    period_ns: float
    reach_m: Float64


@dataclass(frozen=True, slots=True)
class Body:
    """A measured candidate.

    Attributes
    ----------
    region : Region
        At its top.
    shape : Shape
        Fitted to the slab of its top.
    depth_m : float
        Median depth of the echo's peak over the inner part.
    flat_m, slope : float
        Scatter of that depth about a plane, metres, and the plane's slope.
    known : float
        Share of the shape over which the survey reaches.
    crossed : Crossed
        What the lines say.
    """

    region: Region
    shape: Shape
    depth_m: float
    flat_m: float
    slope: float
    known: float
    crossed: Crossed


def strip_width_m(region: Region, cell_m: float) -> float:
    """Width of the strip that would have the region's mean distance from its edge, metres."""
    depth = ndimage.distance_transform_edt(np.pad(region.inside, 1))[1:-1, 1:-1]
    return float(4.0 * (depth[region.inside].mean() - 0.25) * cell_m)


def raise_to_top(slabs: Slabs, region: Region, cell_m: float) -> tuple[Region, int]:
    """Find the top of a region's column, and the region that shows its plan best.

    Parameters
    ----------
    slabs : Slabs
        From `cut_slabs`.
    region : Region
        Where the column is strongest.
    cell_m : float
        Side of a cell, metres.

    Returns
    -------
    region : Region
        Grown anew at the top where it is nearly as clear there, else as it was.
    top : int
        Slab of the shallowest peak of the column's mean amplitude that holds `TOP_SHARE` of the strongest: the base of
        a body, or what rings inside it, may be brighter than its top.
    """
    box = region.box()
    profile = slabs.values[(slice(None), *box)][:, region.inside].mean(axis=1)
    for k in range(1, region.slab - 2):  # three steps are 3/8 of a wavelength: nearer peaks are one echo
        peak = profile[k] >= profile[k - 1] and profile[k] > profile[k + 1]
        parted = profile[k : region.slab].min() < PARTED * profile[k]
        if peak and parted and profile[k] >= max(TOP_SHARE * float(profile[region.slab]), LEAST_TOP):
            part = slabs.values[k][box] * region.inside
            r, c = np.unravel_index(int(part.argmax()), part.shape)
            upper = grow_from(slabs, k, region.row + int(r), region.column + int(c), cell_m)
            clear = upper.plateau / upper.ground >= AS_CLEAR * region.plateau / region.ground
            return (upper if clear else region), k
    return region, region.slab


def measure(survey: Survey, region: Region, shape: Shape, top: int) -> Body:
    """Find how flat the top (slab `top`) of a fitted shape lies, and ask the lines."""
    near_m = float(survey.slabs.depth_m[top])
    depth_m, flat_m, slope, known = _lie(survey, shape, near_m)
    top_ns = float(survey.velocity.two_way_ns(depth_m))
    ring = shape.ring_m()
    low, high = ring.min(axis=0), ring.max(axis=0)
    over = (survey.reach_m[:, :2] <= high).all(axis=1) & (survey.reach_m[:, 2:] >= low).all(axis=1)
    lines = [survey.lines[i] for i in np.flatnonzero(over).tolist()]
    crossed = look_below(lines, ring, survey.interval_ns, top_ns, survey.period_ns)
    return Body(region, shape, depth_m, flat_m, slope, known, crossed)


def echo_of(survey: Survey, body: Body) -> Echo:
    """Time the top, and the base where it shows, in the mean of the traces above a body."""
    near_ns = float(survey.velocity.two_way_ns(body.depth_m))
    return read_echo(body.crossed.mean, survey.interval_ns, near_ns, survey.period_ns)


def fit_region(survey: Survey, region: Region) -> Shape:
    """Fit a rectangle and an ellipse about the region and keep the better."""
    grid, slabs = survey.volume.grid, survey.slabs
    rows, columns = np.nonzero(region.inside)
    rows, columns = rows + region.row, columns + region.column
    xy = np.stack([grid.x_first_m + grid.cell_m * columns, grid.y_first_m + grid.cell_m * rows], axis=1)
    middle = xy.mean(axis=0)
    offset = xy - middle
    spread, axes = np.linalg.eigh(offset.T @ offset / len(xy) + np.eye(2) * grid.cell_m**2 / 12)
    length, width = np.sqrt(12 * spread[::-1])  # an even rectangle's variance is side^2 / 12
    turn = math.atan2(axes[1, 1], axes[0, 1])
    margin = round(MARGIN_M / grid.cell_m)
    r0, r1 = max(0, rows.min() - margin), min(grid.rows, rows.max() + margin + 1)
    c0, c1 = max(0, columns.min() - margin), min(grid.columns, columns.max() + margin + 1)
    known = slabs.known[r0:r1, c0:c1].copy()
    if region.other is not None:
        r, c = np.nonzero(region.other)
        r, c = r + region.row - r0, c + region.column - c0
        near = (r >= 0) & (c >= 0) & (r < known.shape[0]) & (c < known.shape[1])
        known[r[near], c[near]] = False
    row, column = np.nonzero(known)
    x_m = grid.x_first_m + grid.cell_m * (column + c0)
    y_m = grid.y_first_m + grid.cell_m * (row + r0)
    values = slabs.values[region.slab][r0:r1, c0:c1][known]
    start = (float(middle[0]), float(middle[1]), float(length), float(width), turn)
    blur = (0.1 * survey.wavelength_m, 0.5 * survey.wavelength_m)
    rectangle = fit_shape("rectangle", x_m, y_m, values, start, region.plateau, region.ground, blur)
    if rectangle.length_m > ROUND * rectangle.width_m or rectangle.width_m < 0.5 * survey.wavelength_m:
        return rectangle
    ellipse = fit_shape("ellipse", x_m, y_m, values, start, region.plateau, region.ground, blur)
    return ellipse if ellipse.misfit < 0.85 * rectangle.misfit else rectangle


def _lie(survey: Survey, shape: Shape, near_m: float) -> tuple[float, float, float, float]:
    """Depth of the echo's peak over the inner part: median, scatter about a plane, slope; and the share known."""
    grid, volume = survey.volume.grid, survey.volume
    turn = math.radians(shape.bearing_deg)
    x, y = np.meshgrid(grid.x_m() - shape.x_m, grid.y_m() - shape.y_m)
    u = np.abs(x * math.cos(turn) + y * math.sin(turn)) / shape.length_m
    v = np.abs(y * math.cos(turn) - x * math.sin(turn)) / shape.width_m
    cells = shape.length_m * shape.width_m / grid.cell_m**2
    known = float(((u < 0.5) & (v < 0.5) & survey.slabs.known).sum() / max(cells, 1.0))
    inside = (u < 0.35) & (v < 0.35) & survey.slabs.known
    if inside.sum() < 6:
        return near_m, survey.wavelength_m, 0.0, known
    quarter = survey.wavelength_m / 4
    first = max(0, math.floor((near_m - quarter - volume.first) / volume.step))
    last = min(len(volume.values), math.ceil((near_m + quarter - volume.first) / volume.step) + 1)
    depth = volume.first + volume.step * (first + _fine_peak(volume.values[first:last, inside]))
    plane = np.stack([x[inside], y[inside], np.ones(int(inside.sum()))], axis=1)
    best = np.linalg.lstsq(plane, depth, rcond=None)[0]
    rest = depth - plane @ best
    flat = float(1.4826 * np.median(np.abs(rest - np.median(rest))))
    return float(np.median(depth)), flat, float(np.hypot(best[0], best[1])), known


def _fine_peak(part: Float32) -> Float64:
    """Place of the greatest value along axis 0, between samples by a parabola."""
    k = part.argmax(axis=0)
    inner = np.clip(k, 1, len(part) - 2)
    column = np.arange(part.shape[1])
    before, here, after = (part[inner + d, column].astype(float) for d in (-1, 0, 1))
    bend = np.minimum(before - 2 * here + after, -1e-30)
    shift = np.clip(0.5 * (before - after) / bend, -0.5, 0.5)
    return np.asarray(np.where(k == inner, inner + shift, k), dtype=np.float64)
