"""Uneven ground in the 3D scene: what hangs below it is draped, what is level stays level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from gridmap.model import Float64, Grid, Int64

SIDE = 64
"""Most cells along a side of a draped mesh."""


@dataclass(frozen=True, slots=True)
class SceneGround:
    """The ground of the scene.

    Attributes
    ----------
    grid : Grid
        Cells.
    height_m : (row, column) float64
        Elevation, metres; no NaN.
    origin_m : float
        Elevation of the scene's up = 0, whole metres.
    """

    grid: Grid
    height_m: Float64
    origin_m: float

    def up_m(self, xy_m: Float64) -> Float64:
        """Up of the ground at local places, (..., 2) to (...), bilinear between cells; held beyond the rim."""
        at = np.stack(
            [
                (xy_m[..., 1] - self.grid.y_first_m) / self.grid.cell_m,
                (xy_m[..., 0] - self.grid.x_first_m) / self.grid.cell_m,
            ]
        )
        found = ndimage.map_coordinates(self.height_m, at.reshape(2, -1), order=1, mode="nearest")
        return np.asarray(found, dtype=np.float64).reshape(at.shape[1:]) - self.origin_m


def scene_ground(grid: Grid, height_m: Float64 | None) -> SceneGround | None:
    """Return the ground of the scene; None where its heights are not known."""
    if height_m is None:
        return None
    return SceneGround(grid, height_m, float(round(float(height_m.mean()))))


def mesh_places(grid: Grid, most: int = SIDE) -> Float64:
    """Places of a mesh over the outer edges of the cells, (row, column, 2) local metres."""
    half = 0.5 * grid.cell_m
    rows, columns = (min(n, most) + 1 for n in grid.shape)
    x = np.linspace(grid.x_first_m - half, float(grid.x_m()[-1]) + half, columns)
    y = np.linspace(grid.y_first_m - half, float(grid.y_m()[-1]) + half, rows)
    return np.stack(np.meshgrid(x, y), axis=-1)


def mesh_triangles(rows: int, columns: int) -> Int64:
    """Triangles of a mesh of (rows, columns) places in row-major order, (triangle, 3), anticlockwise from above."""
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    right, up, both = corner + 1, corner + columns, corner + columns + 1
    return np.concatenate([np.stack([corner, right, both], 1), np.stack([corner, both, up], 1)]).astype(
        np.int64
    )


def edge_places(grid: Grid, a_side: int) -> Float64:
    """Places along the outer edge of the cells, (4 * a_side, 2) local metres, anticlockwise from the lowest x, y."""
    half = 0.5 * grid.cell_m
    x0, x1 = grid.x_first_m - half, float(grid.x_m()[-1]) + half
    y0, y1 = grid.y_first_m - half, float(grid.y_m()[-1]) + half
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    share = (np.arange(a_side) / a_side)[:, None]
    return np.concatenate(
        [a + share * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    )
