"""From the local grid to a north-up raster: weights once, for all slices."""

from __future__ import annotations

import math

import numpy as np

from gridmap.model import Float32, Grid, RasterGrid, Similarity


def raster_over(grid: Grid, transform: Similarity, crs_wkt: str | None) -> RasterGrid:
    """Lay a north-up raster over a local grid.

    Parameters
    ----------
    grid : Grid
        Local cells.
    transform : Similarity
        Local grid to map.
    crs_wkt : str or None
        CRS of the map.

    Returns
    -------
    RasterGrid
        Cells of the same side, edges on whole multiples of it, around every local cell.
    """
    half = 0.5 * grid.cell_m
    x = np.array([grid.x_first_m - half, grid.x_m()[-1] + half])
    y = np.array([grid.y_first_m - half, grid.y_m()[-1] + half])
    corner = transform.to_map(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))
    cell = grid.cell_m
    west, south = (math.floor(v / cell + 1e-6) for v in corner.min(axis=0))
    east, north = (math.ceil(v / cell - 1e-6) for v in corner.max(axis=0))
    return RasterGrid(west * cell, north * cell, cell, north - south, east - west, crs_wkt)


def to_raster(values: Float32, grid: Grid, raster: RasterGrid, transform: Similarity) -> Float32:
    """Resample layers from the local grid to the map by bilinear weights.

    Parameters
    ----------
    values : (layer, row, column) float32
        On the local grid, y increasing with row; NaN where blank.
    grid : Grid
        Local cells.
    raster : RasterGrid
        Map cells.
    transform : Similarity
        Local grid to map.

    Returns
    -------
    (layer, row, column) float32
        On the map, row 0 in the north. A map cell is blank where the blank neighbours hold half the weight or
        more, or where its centre lies outside the local cells.
    """
    easting = raster.west_m + raster.cell_m * (np.arange(raster.columns) + 0.5)
    northing = raster.north_m - raster.cell_m * (np.arange(raster.rows) + 0.5)
    local = transform.to_local(np.stack(np.meshgrid(easting, northing), axis=-1))
    column = (local[..., 0] - grid.x_first_m) / grid.cell_m
    row = (local[..., 1] - grid.y_first_m) / grid.cell_m
    inside = (column > -0.5) & (column < grid.columns - 0.5) & (row > -0.5) & (row < grid.rows - 0.5)
    at = np.flatnonzero(inside)
    c = np.clip(column.ravel()[at], 0, grid.columns - 1)
    r = np.clip(row.ravel()[at], 0, grid.rows - 1)
    c0 = np.minimum(c.astype(int), max(0, grid.columns - 2))
    r0 = np.minimum(r.astype(int), max(0, grid.rows - 2))
    fc, fr = (c - c0).astype(np.float32), (r - r0).astype(np.float32)
    c1, r1 = np.minimum(c0 + 1, grid.columns - 1), np.minimum(r0 + 1, grid.rows - 1)
    corners = (
        (r0 * grid.columns + c0, (1 - fr) * (1 - fc)),
        (r0 * grid.columns + c1, (1 - fr) * fc),
        (r1 * grid.columns + c0, fr * (1 - fc)),
        (r1 * grid.columns + c1, fr * fc),
    )
    out = np.full((len(values), raster.rows * raster.columns), np.nan, np.float32)
    for k, layer in enumerate(values):
        flat = layer.ravel()
        filled = np.nan_to_num(flat)
        known = np.isfinite(flat).astype(np.float32)
        total = sum(filled[i] * w for i, w in corners)
        weight = sum(known[i] * w for i, w in corners)
        out[k, at] = np.where(weight > 0.5, total / np.maximum(weight, 1e-6), np.nan)
    return out.reshape(len(values), raster.rows, raster.columns)
