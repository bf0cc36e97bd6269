"""From the local grid to the map."""

import math

import numpy as np
import pytest

from gridmap.model import Grid, Similarity
from gridmap.slices.mapgrid import raster_over, to_raster

SITE = Similarity(450000.0, 250000.0, math.cos(math.radians(60)), math.sin(math.radians(60)))
"""Origin 450000, 250000; y axis bears 330 degrees."""


def test_a_hot_cell_lands_where_the_control_points_say():
    """A value at local (2, 1) shows at its map place within half a cell, north up."""
    grid = Grid(0, 0, 0.05, 81, 61)
    values = np.zeros((1, *grid.shape), np.float32)
    values[0, 20, 40] = 1.0
    raster = raster_over(grid, SITE, None)
    row, column = np.unravel_index(np.nanargmax(to_raster(values, grid, raster, SITE)[0]), raster.shape)
    easting = raster.west_m + raster.cell_m * (column + 0.5)
    northing = raster.north_m - raster.cell_m * (row + 0.5)
    want = SITE.to_map(np.array([2.0, 1.0]))
    assert math.hypot(easting - want[0], northing - want[1]) <= 0.05 * math.sqrt(0.5) + 1e-6


def test_a_plane_comes_back_exactly():
    """Bilinear weights reproduce a plane."""
    grid = Grid(0, 0, 0.05, 81, 61)
    values = (grid.y_m()[:, None] * 2 + grid.x_m()[None, :])[None].astype(np.float32)
    raster = raster_over(grid, SITE, None)
    got = to_raster(values, grid, raster, SITE)[0]
    easting = raster.west_m + raster.cell_m * (np.arange(raster.columns) + 0.5)
    northing = raster.north_m - raster.cell_m * (np.arange(raster.rows) + 0.5)
    local = SITE.to_local(np.stack(np.meshgrid(easting, northing), axis=-1))
    inside = (local[..., 0] > 0) & (local[..., 0] < 3) & (local[..., 1] > 0) & (local[..., 1] < 4)
    assert got[inside] == pytest.approx((2 * local[..., 1] + local[..., 0])[inside], abs=1e-4)


def test_outside_the_grid_and_inside_blanks_stay_blank():
    """Corners of the north-up raster outside a turned grid are blank, and so is a blank block."""
    grid = Grid(0, 0, 0.05, 81, 61)
    values = np.ones((1, *grid.shape), np.float32)
    values[0, 30:50, 20:40] = np.nan
    raster = raster_over(grid, SITE, None)
    got = to_raster(values, grid, raster, SITE)[0]
    assert np.isnan(got[0, 0])
    assert np.isnan(got[-1, -1])
    assert np.isfinite(got).sum() * 0.05**2 == pytest.approx(81 * 61 * 0.05**2 - 20 * 20 * 0.05**2, rel=0.03)
