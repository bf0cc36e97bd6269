"""From conditioned lines to values on the grid: the migrated volume."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.image.envelope import envelope
from gridmap.image.merge import merge_by_coverage
from gridmap.image.migrate import LinePlan, envelope_in_place, migrate_2d, migrate_3d, plan_2d
from gridmap.image.over_terrain import Uneven, migrate_2d_over_terrain, migrate_3d_over_terrain, post_heights
from gridmap.image.posts import at_posts, post_count
from gridmap.image.stolt import migrate_stolt
from gridmap.model import CleanLine, Float32, Float64, Grid, VelocityModel, Volume
from gridmap.site.records import Interpolation
from gridmap.volume.interpolate import find_weights
from gridmap.volume.lattice import cell_centres
from gridmap.volume.likeness import Likeness
from gridmap.volume.sources import Sources, join_in_cells
from gridmap.volume.variogram import fit_likeness
from gridmap.volume.weights import Weights

LAYERS_AT_ONCE = 64
"""Layers gridded in one product: wide enough for speed, narrow enough for memory."""

LINES_AT_ONCE = 16
"""Lines migrated side by side: enough to keep both cores busy, few enough for memory."""


@dataclass(frozen=True, slots=True)
class Gridding:
    """How values at the posts of lines become values in cells: weights found once, for all values.

    Attributes
    ----------
    method : "kriging", "linear", "inverse_distance" or "nearest"
        The way to interpolate.
    likeness : Likeness
        Covariance that kriging works with.
    blank_m : float
        Cells farther than this from any post stay blank, metres.
    grid : Grid
        The cells.
    sources : Sources
        The posts.
    means, between : Weights
        (point, post) and (cell, point).
    sd : (row, column) float32
        Standard error of the interpolation over the standard deviation of the values, NaN where blank; NaN
        throughout for ways that know none.
    """

    method: Interpolation
    likeness: Likeness
    blank_m: float
    grid: Grid
    sources: Sources
    means: Weights
    between: Weights
    sd: Float32

    @classmethod
    def over(
        cls,
        sources: Sources,
        grid: Grid,
        likeness: Likeness,
        blank_m: float,
        method: Interpolation = "kriging",
    ) -> Gridding:
        """Find the weights from the posts of all lines, a cell apart, to the cells of `grid`."""
        points, means = join_in_cells(sources, grid)
        between, sd = find_weights(method, points, cell_centres(grid), blank_m, likeness)
        return cls(method, likeness, blank_m, grid, sources, means, between, sd.reshape(grid.shape))

    def spread(self, values: Float32) -> Float32:
        """Spread (post, layer) values of all lines over the grid, (layer, row, column), none below zero."""
        layers = values.shape[1]
        out = np.empty((layers, self.grid.rows * self.grid.columns), np.float32)
        for a in range(0, layers, LAYERS_AT_ONCE):
            part = self.between.apply(self.means.apply(values[:, a : a + LAYERS_AT_ONCE]))
            np.maximum(part.T, 0.0, out=out[a : a + LAYERS_AT_ONCE])
        return out.reshape(layers, *self.grid.shape)

    def fitted_to(self, values: Float32) -> Gridding:
        """Find weights for traces as waves, (post, sample): they are not alike as far as their envelope is."""
        if self.method != "kriging":
            return self
        likeness = fit_likeness(self.sources, values[:, values.shape[1] // 8 :])
        return Gridding.over(self.sources, self.grid, likeness, self.blank_m)


def depth_volume(
    mode: Literal["3d", "2d", "none"],
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    depth_m: Float64,
    distance_m: Float32,
    gridding: Gridding,
    progress: Callable[[float], None] = lambda share: None,
    uneven: Uneven | None = None,
    method: Literal["stolt", "kirchhoff"] = "kirchhoff",
) -> Volume:
    """Image the lines and fill the volume with the envelope.

    Parameters
    ----------
    mode : "3d", "2d" or "none"
        3D migration into the cells, and 2D between the lines where 3D has too little to add up; 2D migration line by
        line, or only time turned into depth, and kriging.
    lines : sequence of CleanLine
        Conditioned lines on one time axis.
    interval_ns, separation_m, velocity, depth_m
        As in `gridmap.image.migrate.migrate_3d`.
    distance_m : (row, column) float32
        Distance to the nearest trace.
    gridding : Gridding
        The cells, how to interpolate between lines, and where to stop.
    progress : callable
        Called with the share done.
    uneven : Uneven or None
        The ground, where it may not be taken as flat under each aperture.
    method : "stolt" or "kirchhoff"
        From `gridmap.image.choose.choose_sum`; Stolt only for 3D, one velocity and even ground.

    Returns
    -------
    Volume
        Envelope against depth; NaN where `distance_m` exceeds `gridding.blank_m`.
    """
    grid = gridding.grid
    if method == "stolt":
        values = _stolt_image(lines, interval_ns, separation_m, velocity, depth_m, gridding, progress)
        return _blanked(values, depth_m, distance_m, gridding, quantity_words("3d"))
    share = 0.4 if mode == "3d" else 0.8
    at_lines = _line_images(
        mode, lines, interval_ns, separation_m, velocity, depth_m, grid, lambda s: progress(share * s), uneven
    )
    values = gridding.spread(at_lines)
    del at_lines
    words = quantity_words(mode)
    if mode == "3d":
        given = (lines, interval_ns, separation_m, velocity, grid, depth_m)
        if uneven is None:
            image, coverage = migrate_3d(*given, progress=lambda s: progress(0.4 + 0.4 * s))
        else:
            image, coverage = migrate_3d_over_terrain(
                *given, uneven, progress=lambda s: progress(0.4 + 0.4 * s)
            )
        envelope_in_place(image)
        merge_by_coverage(image, coverage, values)
        values = image
    return _blanked(values, depth_m, distance_m, gridding, words)


def quantity_words(mode: Literal["3d", "2d", "none"]) -> str:
    """Say what a volume holds."""
    if mode == "3d":
        return "envelope of the echo after 3D migration"
    return f"envelope of the echo, {'not migrated' if mode == 'none' else '2D migration line by line'}"


def _blanked(
    values: Float32, depth_m: Float64, distance_m: Float32, gridding: Gridding, words: str
) -> Volume:
    values[:, distance_m > gridding.blank_m] = np.nan
    step = float(depth_m[1] - depth_m[0])
    return Volume(values, gridding.grid, "depth", float(depth_m[0]), step, words)


def _stolt_image(
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    depth_m: Float64,
    gridding: Gridding,
    progress: Callable[[float], None],
) -> Float32:
    """Grid the traces as waves and migrate the cube: envelope (depth, row, column)."""
    grid = gridding.grid
    traces = np.concatenate([at_posts(ln, ln.traces, grid.cell_m) for ln in lines])
    samples = traces.shape[1]
    waves = gridding.fitted_to(traces)
    cube = np.empty((grid.rows, grid.columns, samples), np.float32)
    for a in range(0, samples, LAYERS_AT_ONCE):
        part = waves.between.apply(waves.means.apply(traces[:, a : a + LAYERS_AT_ONCE]))
        cube[..., a : a + LAYERS_AT_ONCE] = np.nan_to_num(part).reshape(grid.rows, grid.columns, -1)
    del traces
    progress(0.4)
    v = float(velocity.velocity_m_per_ns[0])
    image = migrate_stolt(
        cube, (grid.cell_m, grid.cell_m), interval_ns, v, depth_m, separation_m=separation_m
    )
    envelope_in_place(image)
    progress(0.8)
    return image


def _line_images(
    mode: Literal["3d", "2d", "none"],
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    depth_m: Float64,
    grid: Grid,
    progress: Callable[[float], None],
    uneven: Uneven | None,
) -> Float32:
    """Envelope against depth at the posts of all lines, (post, depth), each line imaged by itself."""
    cell_m = grid.cell_m
    counts = [post_count(line, cell_m) for line in lines]
    whole = np.empty((sum(counts), len(depth_m)), np.float32)
    plan = None if mode == "none" else plan_2d(lines, interval_ns, separation_m, velocity, depth_m, cell_m)
    parts = np.split(whole, np.cumsum(counts)[:-1])
    for a in range(0, len(lines), LINES_AT_ONCE):
        some = lines[a : a + LINES_AT_ONCE]
        if plan is not None and uneven is not None:
            for part, line in zip(parts[a : a + len(some)], some, strict=True):
                height_m = post_heights(line, grid, uneven.height_m)
                part[:] = envelope(
                    migrate_2d_over_terrain(
                        line, plan.signal, velocity, depth_m, cell_m, height_m, uneven.limit_ns
                    )
                )
        else:
            images = image_lines(some, plan, interval_ns, velocity, depth_m, cell_m)
            for part, image in zip(parts[a : a + len(some)], images, strict=True):
                part[:] = image
        progress((a + len(some)) / len(lines))
    return whole


def image_lines(
    lines: Sequence[CleanLine],
    plan: LinePlan | None,
    interval_ns: float,
    velocity: VelocityModel,
    depth_m: Float64,
    cell_m: float,
) -> list[Float32]:
    """Envelope against depth at the posts of up to `LINES_AT_ONCE` lines on level ground, each imaged by itself.

    Parameters
    ----------
    lines : sequence of CleanLine
        The same ones together give the same images: the least weight that a sum is divided by is theirs in common.
    plan : LinePlan or None
        From `plan_2d`; None: not migrated.
    interval_ns, velocity, depth_m, cell_m
        As in `plan_2d`.

    Returns
    -------
    list of (post, depth) float32
        One a line.
    """
    if plan is not None:
        return [envelope(image) for image in migrate_2d(lines, plan)]
    at = velocity.two_way_ns(depth_m) / interval_ns
    return [at_posts(line, _at_times(envelope(line.traces), at), cell_m) for line in lines]


def _at_times(traces: Float32, sample: Float64) -> Float32:
    """Linear interpolation of (trace, sample) at fractional samples, (trace, len(sample)); zero past the end."""
    low = np.minimum(sample.astype(int), traces.shape[1] - 2)
    share = (sample - low).astype(np.float32)
    out = traces[:, low] * (1 - share) + traces[:, low + 1] * share
    out[:, sample > traces.shape[1] - 1] = 0.0
    return np.asarray(out, dtype=np.float32)
