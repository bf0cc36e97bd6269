"""Migration below uneven ground: image points at a depth below their own ground, antennas at their true heights."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from gridmap.image.fold import FOLD_EVERY, coverage_of, divide_by_fold, fold_peak, usual_fold
from gridmap.image.frame import Frame
from gridmap.image.lowpass import smooth_in_place
from gridmap.image.migrate import REACH_M, Signal
from gridmap.image.posts import line_posts, post_count
from gridmap.image.terrain_sum import sum_below_ground
from gridmap.image.terrain_tiles import lay_tiles, miss_ns, tile_counts
from gridmap.model import CleanLine, Float32, Float64, Grid, VelocityModel
from gridmap.place.spacing import measure_spacing, runs_along_y

SHARE_OF_PERIOD = 0.1
"""Travel times may miss by this share of a period: a twentieth of a wavelength in place."""

ANGLE_DEG = 45.0

COPIES_BYTES = 600_000_000
"""Low-passed copies held at a time, roughly: taps are tabled once for as many as fit."""


@dataclass(frozen=True, slots=True)
class Uneven:
    """Ground that migration may not take as flat.

    Attributes
    ----------
    height_m : (row, column) float64
        Elevation of the ground at the cells' centres, metres; no NaN.
    limit_ns : float
        Planes may stand for it where two-way times miss by no more.
    """

    height_m: Float64
    limit_ns: float


@dataclass(frozen=True, slots=True)
class TerrainReport:
    """How uneven ground was taken into account.

    Attributes
    ----------
    limit_ns : float
        Miss of two-way travel time that is let pass.
    flat_miss_ns : float
        Largest miss if the ground were taken as flat under each aperture.
    plane_miss_ns : float
        Largest miss of the planes that stood for the ground, where they did.
    share_uneven : float
        Share of the tiles and depths at which a plane would not do, and travel times came from true heights.
    """

    limit_ns: float
    flat_miss_ns: float
    plane_miss_ns: float = 0.0
    share_uneven: float = 0.0

    @property
    def flat_will_do(self) -> bool:
        """Whether the ground may be taken as flat under each aperture."""
        return self.flat_miss_ns <= self.limit_ns


def judge_ground(
    height_m: Float64,
    cell_m: float,
    velocity: VelocityModel,
    depth_m: Float64,
    period_ns: float,
    angle_deg: float = ANGLE_DEG,
) -> TerrainReport:
    """Say whether migration may take the ground as flat under each aperture, depth still counted from the ground.

    Parameters
    ----------
    height_m : (row, column) float64
        Elevation of the ground, metres.
    cell_m : float
        Side of a cell, metres.
    velocity : VelocityModel
        Of depth below the ground.
    depth_m : (depth,) float64
        Metres below the ground.
    period_ns : float
        Of the centre frequency.
    angle_deg : float
        Widest angle summed.

    Returns
    -------
    TerrainReport
        Its `flat_miss_ns` is exactly 0 on level ground; for lines along x.
    """
    limit_ns = SHARE_OF_PERIOD * period_ns
    rms = velocity.rms_m_per_ns(depth_m)
    reduced_m = 0.5 * velocity.two_way_ns(depth_m) * rms
    tangent = math.tan(math.radians(angle_deg))
    down, over = tile_counts(height_m.shape)
    probe = (height_m, cell_m, reduced_m, rms, tangent, REACH_M)
    flat = float(miss_ns(*probe, np.zeros((down * over, 2))).max())
    if flat <= limit_ns:
        return TerrainReport(limit_ns, flat)
    planes = lay_tiles(*probe).miss_ns
    rough = planes > limit_ns
    return TerrainReport(limit_ns, flat, float(planes[~rough].max(initial=0.0)), float(rough.mean()))


def migrate_3d_over_terrain(
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    grid: Grid,
    depth_m: Float64,
    ground: Uneven,
    angle_deg: float = ANGLE_DEG,
    progress: Callable[[float], None] = lambda share: None,
) -> tuple[Float32, Float32]:
    """Kirchhoff depth migration of scattered traces below uneven ground.

    Parameters
    ----------
    lines, interval_ns, separation_m, velocity, grid, angle_deg, progress
        As in `gridmap.image.migrate.migrate_3d`; the angle is from the perpendicular to the ground.
    depth_m : (depth,) float64
        Below the ground of each cell, straight down, metres.
    ground : Uneven
        Its heights over `grid`.

    Returns
    -------
    image, coverage
        As of `gridmap.image.migrate.migrate_3d`.
    """
    image = np.zeros((len(depth_m), *grid.shape), np.float32)
    fold = np.zeros((-(-len(depth_m) // FOLD_EVERY), *grid.shape), np.float32)
    usable = [ln for ln in lines if ln.usable.any()]
    signal = Signal.of((ln.traces[ln.usable] for ln in usable), interval_ns, separation_m, velocity, 1.0)
    turns = [turned for turned in (False, True) if any(runs_along_y(ln.xy_m) == turned for ln in usable)]
    for k, turned in enumerate(turns):
        group = [ln for ln in usable if runs_along_y(ln.xy_m) == turned]
        height = np.ascontiguousarray(ground.height_m.T if turned else ground.height_m)
        frame = Frame.of(grid, turned, _pad(height, grid.cell_m, depth_m))
        part, part_fold = _sum(
            group, signal, 1.0, frame, height, velocity, depth_m, ground.limit_ns, angle_deg
        )
        image += part.transpose(0, 2, 1) if turned else part
        fold += part_fold.transpose(0, 2, 1) if turned else part_fold
        progress((k + 1.0) / len(turns))
    divide_by_fold(image, fold, fold_peak(fold))
    return image, coverage_of(fold, usual_fold(fold))


def migrate_2d_over_terrain(
    line: CleanLine,
    signal: Signal,
    velocity: VelocityModel,
    depth_m: Float64,
    cell_m: float,
    height_m: Float64,
    limit_ns: float,
    angle_deg: float = ANGLE_DEG,
) -> Float32:
    """Kirchhoff depth migration of one line over uneven ground, at its posts.

    Parameters
    ----------
    line : CleanLine
        Distances along it are level ones; unusable traces are left out.
    signal : Signal
        Of the survey, from `gridmap.image.migrate.plan_2d`.
    velocity, depth_m, angle_deg
        As in `migrate_3d_over_terrain`.
    cell_m : float
        Step of the posts, metres.
    height_m : (post,) float64
        Elevation of the ground at `line_posts(line, cell_m)`, metres.
    limit_ns : float
        As in `Uneven`.

    Returns
    -------
    (post, depth) float32
        Signed image straight below the posts; a slope across the line is not known to a single line.
    """
    posts = post_count(line, cell_m)
    if not line.usable.any():
        return np.zeros((posts, len(depth_m)), np.float32)
    straight = replace(line, xy_m=np.stack([line.along_m, np.zeros_like(line.along_m)], axis=1))
    height = np.ascontiguousarray(height_m[None])
    grid = Grid(float(line.along_m[0]), 0.0, cell_m, 1, posts)
    frame = Frame.of(grid, False, _pad(height, cell_m, depth_m))
    image, fold = _sum([straight], signal, 0.5, frame, height, velocity, depth_m, limit_ns, angle_deg)
    divide_by_fold(image, fold, fold_peak(fold))
    return np.ascontiguousarray(image[:, 0].T)


def post_heights(line: CleanLine, grid: Grid, height_m: Float64) -> Float64:
    """Elevation of the ground at the posts of a line, (post,) metres, bilinear between cells."""
    xy = line_posts(line, grid.cell_m)
    at = [(xy[:, 1] - grid.y_first_m) / grid.cell_m, (xy[:, 0] - grid.x_first_m) / grid.cell_m]
    return np.asarray(ndimage.map_coordinates(height_m, at, order=1, mode="nearest"), dtype=np.float64)


def _pad(height_m: Float64, cell_m: float, depth_m: Float64) -> int:
    """Columns for the widest aperture and for the farthest foot of a perpendicular."""
    along = float(np.abs(np.diff(height_m, axis=1)).max(initial=0.0)) / cell_m
    foot = float(depth_m[-1]) * min(along / (1.0 + along**2), 0.5)
    return math.ceil((REACH_M + foot) / cell_m) + 2


def _sum(
    lines: Sequence[CleanLine],
    signal: Signal,
    order: float,
    frame: Frame,
    height_m: Float64,
    velocity: VelocityModel,
    depth_m: Float64,
    limit_ns: float,
    angle_deg: float,
) -> tuple[Float32, Float32]:
    """Sum data at every depth, and the weights at every fourth."""
    tangent = math.tan(math.radians(angle_deg))
    rms, two_way = velocity.rms_m_per_ns(depth_m), velocity.two_way_ns(depth_m)
    tiles = lay_tiles(height_m, frame.cell_m, 0.5 * two_way * rms, rms, tangent, REACH_M)
    level = (height_m - height_m.mean()).astype(np.float32)
    spacing = measure_spacing([ln.xy_m for ln in lines])
    bridge_m = max(0.5 * signal.wavelength_m, 2.5 * frame.cell_m)
    laid = frame.lay(lines, signal.interval_ns, order, bridge_m, spacing.line_m)
    across_m = spacing.line_m if math.isfinite(spacing.line_m) else 0.0
    given = (
        laid.weight,
        laid.at_row,
        np.pad(level, ((0, 0), (frame.pad, frame.pad)), mode="edge"),
        tiles.slopes,
        tiles.miss_ns > limit_ns,
        tiles.stretch_miss_ns > limit_ns,
        frame.pad,
        frame.cell_m,
        signal.separation_m,
        two_way,
        rms,
        signal.interval_ns,
        tangent,
        REACH_M,
        (spacing.trace_m, across_m),
        signal.ladder.limit_mhz,
        signal.ladder.passed,
    )
    image = np.zeros((len(depth_m), frame.rows, frame.columns), np.float32)
    widths = signal.ladder.half_width
    at_once = max(1, int(COPIES_BYTES / max(laid.data.nbytes, 1)))
    for first in range(0, len(widths), at_once):
        copies = np.empty((min(at_once, len(widths) - first), *laid.data.shape), np.float32)
        for copy, half_width in zip(copies, widths[first : first + at_once], strict=True):
            smooth_in_place(laid.data, int(half_width))
            copy[:] = laid.data
        image += sum_below_ground(copies, *given, first, 1)
    return image, sum_below_ground(laid.data[None], *given, -1, FOLD_EVERY)
