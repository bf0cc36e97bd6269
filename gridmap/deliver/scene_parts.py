"""Pieces of the 3D scene in east, north, up: slices as quads, iso-surfaces, lines, ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyvista as pv

from gridmap.deliver.colours import two_digits
from gridmap.deliver.scene_ground import SceneGround, scene_ground
from gridmap.errors import OurFaultError
from gridmap.model import Float32, Float64, Grid, Int64, Similarity, Volume, Window

_MOST_CELLS = 2_000_000
_MOST_TRIANGLES = 100_000


@dataclass(frozen=True, slots=True)
class Surface:
    """Triangles.

    Attributes
    ----------
    points_m : (point, 3) float64
        East, north, up from the scene's origin, metres.
    triangles : (triangle, 3) int64
        Indices of points.
    """

    points_m: Float64
    triangles: Int64


@dataclass(frozen=True, slots=True)
class SceneFrame:
    """How local x, y, depth become east, north, up.

    Attributes
    ----------
    transform : Similarity
        Local grid to map.
    origin_m : (float, float)
        Easting and northing of the scene's origin, whole metres.
    ground : SceneGround or None
        Uneven ground that depths hang below; None: the ground is up = 0.
    """

    transform: Similarity
    origin_m: tuple[float, float]
    ground: SceneGround | None = None

    def to_scene(self, xy_m: Float64, depth_m: Float64 | float) -> Float64:
        """Take (..., 2) local x, y and depth to (..., 3) east, north, up; up is the ground's less the depth."""
        places = np.asarray(xy_m, dtype=float)
        ground = 0.0 if self.ground is None else self.ground.up_m(places)
        return self._at_up(places, ground - np.asarray(depth_m, dtype=float))

    def window_points(self, xy_m: Float64, window: Window) -> Float64:
        """Take (..., 2) local x, y to where a slice is drawn: the middle of its window, (..., 3)."""
        if window.axis == "elevation" and self.ground is not None:
            return self._at_up(xy_m, float(np.mean(window.elevation_m)) - self.ground.origin_m)
        middle = 0.5 * (window.top_m + window.base_m) if math.isfinite(window.base_m) else window.top_m
        return self.to_scene(xy_m, middle)

    def draped(self, window: Window) -> bool:
        """Whether a slice follows uneven ground."""
        return self.ground is not None and window.axis != "elevation"

    def _at_up(self, xy_m: Float64, up_m: Float64 | float) -> Float64:
        en = self.transform.to_map(xy_m) - np.asarray(self.origin_m)
        up = np.broadcast_to(np.asarray(up_m, dtype=float), en.shape[:-1])
        return np.concatenate([en, up[..., None]], axis=-1)


def scene_frame(grid: Grid, transform: Similarity, height_m: Float64 | None = None) -> SceneFrame:
    """Put the origin at the middle of the grid, on whole metres, so that float32 keeps 0.1 mm.

    `height_m`, (row, column), is the elevation of uneven ground.
    """
    middle = np.array([0.5 * (grid.x_m()[0] + grid.x_m()[-1]), 0.5 * (grid.y_m()[0] + grid.y_m()[-1])])
    east, north = transform.to_map(middle)
    origin = float(round(float(east))), float(round(float(north)))
    return SceneFrame(transform, origin, scene_ground(grid, height_m))


def apart(tops_m: Sequence[float], bases_m: Sequence[float], most: int) -> list[int]:
    """Choose slices that do not overlap, evenly from the top, no more than `most`."""
    chosen: list[int] = []
    last = -math.inf
    for k, (top, base) in enumerate(zip(tops_m, bases_m, strict=True)):
        if top >= last - 1e-6:
            chosen.append(k)
            last = base
    return chosen[:: max(1, math.ceil(len(chosen) / most))]


def iso_levels(values: Float32) -> tuple[float, ...]:
    """Two levels from all values of the volume: where the strongest 2 % and 0.4 % begin, to two digits."""
    flat = values.reshape(-1)
    flat = flat[:: max(1, flat.size // 1_000_000)]
    known = flat[np.isfinite(flat)]
    if not known.size or float(known.min()) == float(known.max()):
        return ()
    low, high = (two_digits(float(v)) for v in np.percentile(known, [98.0, 99.6]))
    return (low, high) if low < high else (low,)


def thinned(
    volume: Volume, most_cells: int = _MOST_CELLS, usual: Float32 | None = None
) -> tuple[Float32, int, int]:
    """Join blocks of the volume by their mean until no more than `most_cells` are left.

    Parameters
    ----------
    volume : Volume
        (z, y, x); NaN where blank.
    most_cells : int
        Upper bound.
    usual : (z,) float32 or None
        What the values of each depth are divided by first, some depths at a time, so that the volume is never held
        twice.

    Returns
    -------
    (z, y, x) float32
        Blank cells of a block are left out of its mean; a block wholly blank is NaN. Edge blocks that are not
        whole are left out.
    int
        Cells joined on the first axis.
    int
        Cells joined on each of the other two.
    """
    factor = max(1, math.ceil((volume.values.size / most_cells) ** (1.0 / 3.0) - 1e-9))
    factors = [min(factor, n) for n in volume.values.shape]
    level, across = factors[0], min(factors[1:])
    depth, rows, columns = (n // f for n, f in zip(volume.values.shape, (level, across, across), strict=True))
    out = np.empty((depth, rows, columns), np.float32)
    for k in range(depth):
        some = slice(k * level, (k + 1) * level)
        part = volume.values[some, : rows * across, : columns * across]
        if usual is not None:
            part = part / usual[some, None, None]
        blocks = part.reshape(level, rows, across, columns, across)
        known = np.isfinite(blocks)
        total = np.where(known, blocks, np.float32(0.0)).sum(axis=(0, 2, 4))
        count = known.sum(axis=(0, 2, 4))
        out[k] = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return out, level, across


def iso_surface(volume: Volume, frame: SceneFrame, level: float, thin: tuple[Float32, int, int]) -> Surface:
    """Surface at which the values cross a level, closed at blank cells and at the sides of the volume.

    Parameters
    ----------
    volume : Volume
        Axis depth.
    frame : SceneFrame
        Local to scene.
    level : float
        In the unit of the values.
    thin : tuple
        From `thinned`, shared by all levels.

    Returns
    -------
    Surface
        By flying edges (Schroeder, Maynard and Geveci 2015), then quadric decimation to 100 000 triangles.

    Raises
    ------
    OurFaultError
        If the first axis is not depth.
    """
    if volume.axis != "depth":
        raise OurFaultError("the scene needs a volume over depth, not time")
    values, down, across = thin
    low = float(np.nanmin(values)) if np.isfinite(values).any() else level
    floor = min(low, level - abs(level) - 1e-6)
    filled = np.pad(np.nan_to_num(values, nan=floor), 1, constant_values=floor)
    cell = volume.grid.cell_m * across
    image = pv.ImageData(
        dimensions=filled.shape[::-1],
        spacing=(cell, cell, volume.step * down),
        origin=(
            volume.grid.x_first_m + 0.5 * (across - 1) * volume.grid.cell_m - cell,
            volume.grid.y_first_m + 0.5 * (across - 1) * volume.grid.cell_m - cell,
            volume.first + 0.5 * (down - 1) * volume.step - volume.step * down,
        ),
    )
    image.point_data["v"] = filled.reshape(-1)
    found = image.contour([level], scalars="v", method="flying_edges", compute_normals=False)
    if found.n_cells > _MOST_TRIANGLES:
        found = found.decimate(1.0 - _MOST_TRIANGLES / found.n_cells)
    points = np.asarray(found.points, dtype=float)
    triangles = (
        np.asarray(found.faces, dtype=np.int64).reshape(-1, 4)[:, 1:]
        if found.n_cells
        else np.empty((0, 3), np.int64)
    )
    # Depth points down and up points up: turning the axis over would turn the triangles inside out.
    return Surface(frame.to_scene(points[:, :2], np.maximum(points[:, 2], 0.0)), triangles[:, ::-1])
