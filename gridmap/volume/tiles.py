"""Tiles of the ground: a volume too large to be made at once is made part by part.

The plan is decided by geometry alone, never by how much memory or how many workers there are, so that neither changes
a result. Tiles do not overlap; what each is made from does: lines and posts that lie within its reach.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.model import CleanLine, Grid

WHOLE_BYTES = 500_000_000
"""A volume up to this size is one tile: a 20 m square in cells of 0.05 m and 256 depths takes 165 MB."""

TILE_BYTES = 150_000_000
"""Larger ones are cut into tiles of at most about this size."""


@dataclass(frozen=True, slots=True)
class Tile:
    """A rectangle of cells.

    Attributes
    ----------
    number : int
        From 0, row by row of tiles.
    rows, columns : (int, int)
        First, and one past the last, in the grid of the survey.
    """

    number: int
    rows: tuple[int, int]
    columns: tuple[int, int]

    @property
    def part(self) -> tuple[slice, slice]:
        """Rows and columns as slices of the survey's grid."""
        return slice(*self.rows), slice(*self.columns)

    def grid(self, whole: Grid) -> Grid:
        """Return the tile's own cells."""
        return Grid(
            whole.x_first_m + self.columns[0] * whole.cell_m,
            whole.y_first_m + self.rows[0] * whole.cell_m,
            whole.cell_m,
            self.rows[1] - self.rows[0],
            self.columns[1] - self.columns[0],
        )


def plan_tiles(grid: Grid, layers: int) -> tuple[Tile, ...]:
    """Cut a grid into tiles of about equal size.

    Parameters
    ----------
    grid : Grid
        Cells of the survey.
    layers : int
        Depths, or samples where there are more.

    Returns
    -------
    tuple of Tile
        One where the whole is no larger than `WHOLE_BYTES`.
    """
    column_bytes = 4 * layers
    if grid.rows * grid.columns * column_bytes <= WHOLE_BYTES:
        return (Tile(0, (0, grid.rows), (0, grid.columns)),)
    side = max(1, math.isqrt(TILE_BYTES // column_bytes))
    down, over = (_edges(count, side) for count in grid.shape)
    spans = [(rows, columns) for rows in down for columns in over]
    return tuple(Tile(k, rows, columns) for k, (rows, columns) in enumerate(spans))


def _edges(count: int, side: int) -> list[tuple[int, int]]:
    parts = -(-count // side)
    at = [count * k // parts for k in range(parts + 1)]
    return list(itertools.pairwise(at))


def lines_near(lines: Sequence[CleanLine], grid: Grid, reach_m: float) -> tuple[CleanLine, ...]:
    """Take the lines of which any trace comes within `reach_m` of a tile."""
    low = np.array([grid.x_first_m, grid.y_first_m]) - reach_m
    high = np.array([grid.x_m()[-1], grid.y_m()[-1]]) + reach_m
    return tuple(ln for ln in lines if np.all((ln.xy_m >= low) & (ln.xy_m <= high), axis=1).any())
