"""Cells on the ground: the local grid of the volume, and the north-up raster of the map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridmap.model.arrays import Float64


@dataclass(frozen=True, slots=True)
class Grid:
    """Square cells in the local grid; arrays over it have axes (row, column) = (y, x), y increasing.

    Attributes
    ----------
    x_first_m, y_first_m : float
        Centre of the cell in row 0, column 0, metres in the local grid.
    cell_m : float
        Side of a cell, metres.
    rows, columns : int
        Count of cells along y and along x.
    """

    x_first_m: float
    y_first_m: float
    cell_m: float
    rows: int
    columns: int

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.rows, self.columns

    def x_m(self) -> Float64:
        """Return the cell centres along x, (column,) metres."""
        return np.asarray(self.x_first_m + self.cell_m * np.arange(self.columns), dtype=np.float64)

    def y_m(self) -> Float64:
        """Return the cell centres along y, (row,) metres."""
        return np.asarray(self.y_first_m + self.cell_m * np.arange(self.rows), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class RasterGrid:
    """A north-up raster: row 0 is the northernmost; arrays over it have axes (row, column).

    Attributes
    ----------
    west_m, north_m : float
        Outer corner of the cell in row 0, column 0, in map metres.
    cell_m : float
        Side of a cell, metres.
    rows, columns : int
        Count of cells southward and eastward.
    crs_wkt : str or None
        The projected CRS as WKT 2; None where the map is in local grid metres.
    """

    west_m: float
    north_m: float
    cell_m: float
    rows: int
    columns: int
    crs_wkt: str | None

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.rows, self.columns

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """(west, south, east, north) outer edges, map metres."""
        return (
            self.west_m,
            self.north_m - self.rows * self.cell_m,
            self.west_m + self.columns * self.cell_m,
            self.north_m,
        )

    @property
    def affine(self) -> tuple[float, float, float, float, float, float]:
        """The six numbers (a, b, c, d, e, f) of E = a col + b row + c, N = d col + e row + f."""
        return self.cell_m, 0.0, self.west_m, 0.0, -self.cell_m, self.north_m
