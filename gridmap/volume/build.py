"""From conditioned lines to values on the grid: the migrated volume, and maps of windows of time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.image.envelope import envelope
from gridmap.image.migrate import image_envelope, migrate_2d, migrate_3d
from gridmap.model import CleanLine, Float32, Float64, Grid, VelocityModel, Volume
from gridmap.volume.weights import Weights, cell_means, local_kriging


@dataclass(frozen=True, slots=True)
class Gridding:
    """How values at points become values in cells.

    Attributes
    ----------
    range_m, nugget : float
        Of the kriging covariance.
    blank_m : float
        Cells farther than this from any point stay blank, metres.
    """

    range_m: float
    nugget: float
    blank_m: float

    def weights(self, xy_m: Float64, grid: Grid) -> tuple[Weights, Weights]:
        """Weights from points (point, 2) to cell means, and from those to all cells."""
        point_m, means = cell_means(xy_m, grid)
        return means, local_kriging(point_m, grid, self.range_m, self.nugget, self.blank_m)


def _spread(values: Float32, weights: tuple[Weights, Weights], grid: Grid) -> Float32:
    """Spread (point, layer) values over the grid, (layer, row, column); an envelope is not negative."""
    means, kriging = weights
    cells = np.maximum(kriging.apply(means.apply(values)), 0.0)
    return np.ascontiguousarray(cells.T).reshape(values.shape[1], *grid.shape)


def grid_windows(
    lines: Sequence[CleanLine], values: Sequence[Float32], grid: Grid, gridding: Gridding
) -> Float32:
    """Map what each trace says of each window.

    Parameters
    ----------
    lines : sequence of CleanLine
        Where the traces are.
    values : sequence of (trace, window) float32
        One array a line, such as the envelope's RMS in windows of time.
    grid : Grid
        Cells wanted.
    gridding : Gridding
        How to interpolate.

    Returns
    -------
    (window, row, column) float32
        NaN where blank.
    """
    xy = np.concatenate([ln.xy_m[ln.usable] for ln in lines])
    data = np.concatenate([v[ln.usable] for ln, v in zip(lines, values, strict=True)])
    return _spread(data, gridding.weights(xy, grid), grid)


def depth_volume(
    mode: Literal["3d", "2d", "none"],
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    grid: Grid,
    depth_m: Float64,
    distance_m: Float32,
    gridding: Gridding,
    progress: Callable[[float], None] = lambda share: None,
) -> Volume:
    """Image the lines and fill the volume with the envelope.

    Parameters
    ----------
    mode : "3d", "2d" or "none"
        3D migration into the cells; 2D migration line by line, or only time turned into depth, and kriging.
    lines : sequence of CleanLine
        Conditioned lines on one time axis.
    interval_ns, separation_m, velocity, grid, depth_m
        As in `gridmap.image.migrate.migrate_3d`.
    distance_m : (row, column) float32
        Distance to the nearest trace.
    gridding : Gridding
        How to interpolate between lines, and where to stop.
    progress : callable
        Called with the share done.

    Returns
    -------
    Volume
        Envelope against depth; NaN where `distance_m` exceeds `gridding.blank_m`.
    """
    if mode == "3d":
        image = migrate_3d(
            lines, interval_ns, separation_m, velocity, grid, depth_m, progress=lambda s: progress(0.8 * s)
        )
        values = image_envelope(image)
        words = "envelope of the echo after 3D migration"
    else:
        points, rows = [], []
        for i, line in enumerate(lines):
            if mode == "2d":
                xy, image = migrate_2d(line, interval_ns, separation_m, velocity, depth_m, grid.cell_m)
                rows.append(envelope(image))
                points.append(xy)
            else:
                rows.append(
                    _at_times(envelope(line.traces), velocity.two_way_ns(depth_m) / interval_ns)[line.usable]
                )
                points.append(line.xy_m[line.usable])
            progress(0.8 * (i + 1) / len(lines))
        values = _spread(np.concatenate(rows), gridding.weights(np.concatenate(points), grid), grid)
        words = f"envelope of the echo, {'2D migration line by line' if mode == '2d' else 'not migrated'}"
    values[:, distance_m > gridding.blank_m] = np.nan
    return Volume(values, grid, "depth", float(depth_m[0]), float(depth_m[1] - depth_m[0]), words)


def _at_times(traces: Float32, sample: Float64) -> Float32:
    """Linear interpolation of (trace, sample) at fractional samples, (trace, len(sample)); zero past the end."""
    low = np.minimum(sample.astype(int), traces.shape[1] - 2)
    share = (sample - low).astype(np.float32)
    out = traces[:, low] * (1 - share) + traces[:, low + 1] * share
    out[:, sample > traces.shape[1] - 1] = 0.0
    return np.asarray(out, dtype=np.float32)
