"""Cells by whole numbers, so that a tile of a map has its cells at the very places of the whole."""

from __future__ import annotations

import numpy as np

from gridmap.model import Float64, Grid, Int64

_ALIGNED = 1e-6
"""Of a cell: a grid this near to whole multiples of its cell is taken to lie on them."""


def cell_centres(grid: Grid) -> Float64:
    """Return the centres of all cells, (row x column, 2) metres, row by row.

    The centre of a cell of a grid that lies on whole multiples of its side is the same number, to the bit, whichever
    part of the lattice the grid is.
    """
    (x_first, x_shift), (y_first, y_shift) = _first(grid)
    x = (x_first + np.arange(grid.columns)) * grid.cell_m + x_shift
    y = (y_first + np.arange(grid.rows)) * grid.cell_m + y_shift
    every = np.stack(np.meshgrid(x, y), axis=-1)
    return np.asarray(every.reshape(-1, 2), np.float64)


def cells_of(xy_m: Float64, grid: Grid) -> Int64:
    """Return the (point, 2) column and row of the lattice that each point lies in, counted from local 0, 0."""
    (_, x_shift), (_, y_shift) = _first(grid)
    return np.asarray(np.rint((xy_m - np.array([x_shift, y_shift])) / grid.cell_m), np.int64)


def _first(grid: Grid) -> tuple[tuple[int, float], tuple[int, float]]:
    """For x and y: the first cell's number on the lattice, and how far the lattice stands off 0."""
    out = []
    for first_m in (grid.x_first_m, grid.y_first_m):
        number = round(first_m / grid.cell_m)
        shift = first_m - number * grid.cell_m
        out.append((number, shift if abs(shift) > _ALIGNED * grid.cell_m else 0.0))
    return out[0], out[1]
