"""Migration below uneven ground: image points at a depth below their own ground, antennas at their true heights."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from gridmap.image.migrate import REACH_M
from gridmap.image.posts import line_posts, post_count
from gridmap.image.rows import Rows, differentiate, rows_of
from gridmap.image.terrain_sum import sum_below_ground
from gridmap.image.terrain_tiles import lay_tiles, miss_ns, tile_counts
from gridmap.model import CleanLine, Float32, Float64, Grid, VelocityModel
from gridmap.place.spacing import runs_along_y

SHARE_OF_PERIOD = 0.1
"""Travel times may miss by this share of a period: a twentieth of a wavelength in place."""

ANGLE_DEG = 45.0


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
        Its `flat_miss_ns` is exactly 0 on level ground.
    """
    rms = velocity.rms_m_per_ns(depth_m)
    down, over = tile_counts(height_m.shape)
    tangent = math.tan(math.radians(angle_deg))
    reduced_m = 0.5 * velocity.two_way_ns(depth_m) * rms
    miss = miss_ns(height_m, cell_m, reduced_m, rms, tangent, REACH_M, np.zeros((down * over, 2)))
    return TerrainReport(SHARE_OF_PERIOD * period_ns, float(miss.max()))


def migrate_3d_over_terrain(
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    grid: Grid,
    depth_m: Float64,
    height_m: Float64,
    limit_ns: float,
    angle_deg: float = ANGLE_DEG,
    progress: Callable[[float], None] = lambda share: None,
) -> tuple[Float32, TerrainReport]:
    """Kirchhoff depth migration of scattered traces below uneven ground.

    Parameters
    ----------
    lines, interval_ns, separation_m, velocity, grid, angle_deg, progress
        As in `gridmap.image.migrate.migrate_3d`; the angle is from the perpendicular to the ground.
    depth_m : (depth,) float64
        Below the ground of each cell, straight down, metres.
    height_m : (row, column) float64
        Elevation of the ground at the cells' centres, metres; no NaN.
    limit_ns : float
        Planes may stand for the ground where two-way times miss by no more.

    Returns
    -------
    (depth, row, column) float32
        Signed image, divided by the weights summed.
    TerrainReport
        What was done.
    """
    samples = lines[0].traces.shape[1]
    image = np.zeros((len(depth_m), *grid.shape), np.float32)
    fold = np.zeros_like(image)
    reports = []
    turns = [turned for turned in (False, True) if any(runs_along_y(ln.xy_m) == turned for ln in lines)]
    for k, turned in enumerate(turns):
        group = [ln for ln in lines if runs_along_y(ln.xy_m) == turned]
        height = np.ascontiguousarray(height_m.T if turned else height_m)
        pad = _pad(height, grid.cell_m, depth_m)
        rows = rows_of(
            [ln.xy_m[ln.usable] for ln in group],
            (differentiate(ln.traces[ln.usable], interval_ns, 0.5) for ln in group),
            samples,
            grid,
            pad,
            turned,
        )
        progress((k + 0.2) / len(turns))
        part, part_fold, report = _sum(
            rows, height, interval_ns, separation_m, velocity, grid.cell_m, depth_m, limit_ns, angle_deg
        )
        image += part.transpose(0, 2, 1) if turned else part
        fold += part_fold.transpose(0, 2, 1) if turned else part_fold
        reports.append(report)
        progress((k + 1.0) / len(turns))
    full = np.maximum(fold.reshape(len(depth_m), -1).max(axis=1), 1e-20)
    out = np.asarray(image / (fold + 0.05 * full[:, None, None]), dtype=np.float32)
    return out, join_reports(reports)


def migrate_2d_over_terrain(
    line: CleanLine,
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    depth_m: Float64,
    cell_m: float,
    height_m: Float64,
    limit_ns: float,
    angle_deg: float = ANGLE_DEG,
) -> tuple[Float32, TerrainReport]:
    """Kirchhoff depth migration of one line over uneven ground, at its posts.

    Parameters
    ----------
    line, interval_ns, separation_m, velocity, depth_m, cell_m, angle_deg
        As in `gridmap.image.migrate.migrate_2d`; distances along the line are level ones.
    height_m : (post,) float64
        Elevation of the ground at `line_posts(line, cell_m)`, metres.
    limit_ns : float
        As in `migrate_3d_over_terrain`.

    Returns
    -------
    (post, depth) float32
        Signed image straight below the posts; a slope across the line is not known to a single line.
    TerrainReport
        What was done.
    """
    along_m = line.along_m
    grid = Grid(float(along_m[0]), 0.0, cell_m, 1, post_count(line, cell_m))
    position = np.stack([along_m, np.zeros_like(along_m)], axis=1)[line.usable]
    traces = differentiate(line.traces[line.usable], interval_ns, 0.5)
    height = np.ascontiguousarray(height_m[None])
    pad = _pad(height, cell_m, depth_m)
    rows = rows_of([position], [traces], traces.shape[1], grid, pad, turned=False)
    image, fold, report = _sum(
        rows, height, interval_ns, separation_m, velocity, cell_m, depth_m, limit_ns, angle_deg
    )
    full = np.maximum(fold.max(axis=(1, 2)), 1e-20)
    return np.ascontiguousarray((image / (fold + 0.05 * full[:, None, None]))[:, 0].T), report


def post_heights(line: CleanLine, grid: Grid, height_m: Float64) -> Float64:
    """Elevation of the ground at the posts of a line, (post,) metres, bilinear between cells."""
    xy = line_posts(line, grid.cell_m)
    at = [(xy[:, 1] - grid.y_first_m) / grid.cell_m, (xy[:, 0] - grid.x_first_m) / grid.cell_m]
    return np.asarray(ndimage.map_coordinates(height_m, at, order=1, mode="nearest"), dtype=np.float64)


def join_reports(reports: Sequence[TerrainReport]) -> TerrainReport:
    """One report for several sums: the largest misses, the mean share."""
    return TerrainReport(
        reports[0].limit_ns,
        max(r.flat_miss_ns for r in reports),
        max(r.plane_miss_ns for r in reports),
        float(np.mean([r.share_uneven for r in reports])),
    )


def _pad(height_m: Float64, cell_m: float, depth_m: Float64) -> int:
    """Columns for the widest aperture and for the farthest foot of a perpendicular."""
    along = np.abs(np.diff(height_m, axis=1)).max(initial=0.0) / cell_m
    foot = float(depth_m[-1]) * min(along / (1.0 + along**2), 0.5)
    return math.ceil((REACH_M + foot) / cell_m) + 2


def _sum(
    rows: Rows,
    height_m: Float64,
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    cell_m: float,
    depth_m: Float64,
    limit_ns: float,
    angle_deg: float,
) -> tuple[Float32, Float32, TerrainReport]:
    """Sum data at every depth, and the weights at every fourth, filled in between."""
    tangent = math.tan(math.radians(angle_deg))
    rms, two_way = velocity.rms_m_per_ns(depth_m), velocity.two_way_ns(depth_m)
    tiles = lay_tiles(height_m, cell_m, 0.5 * two_way * rms, rms, tangent, REACH_M)
    rough, own = tiles.miss_ns > limit_ns, tiles.stretch_miss_ns > limit_ns
    level = (height_m - height_m.mean()).astype(np.float32)
    arguments = (
        rows.data,
        rows.weight,
        rows.row_index,
        np.pad(level, ((0, 0), (rows.pad, rows.pad)), mode="edge"),
        tiles.slopes,
        rough,
        own,
        rows.pad,
        cell_m,
        separation_m,
        two_way,
        rms,
        interval_ns,
        tangent,
        REACH_M,
    )
    image = sum_below_ground(*arguments, 1, False)
    every = 4
    coarse = sum_below_ground(*arguments, every, True)
    at = np.minimum(np.arange(len(depth_m)) / every, len(coarse) - 1)
    low = at.astype(int)
    high = np.minimum(low + 1, len(coarse) - 1)
    share = (at - low).astype(np.float32)[:, None, None]
    missed = max(tiles.miss_ns[~rough].max(initial=0.0), tiles.stretch_miss_ns[~own].max(initial=0.0))
    report = TerrainReport(limit_ns, 0.0, float(missed), float(rough.mean()))
    return image, coarse[low] * (1 - share) + coarse[high] * share, report
