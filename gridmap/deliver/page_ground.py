"""Heights of the ground for the page's view in three dimensions: north-up posts, few enough to draw at once."""

from __future__ import annotations

import numpy as np

from gridmap.model import Float64, Similarity, Volume

MOST_POSTS = 64
"""Along the longer side."""


def page_ground(volume: Volume, transform: Similarity) -> tuple[float, float, float, Float64] | None:
    """Sample the ground of a volume on posts over the map; None where it is not known.

    Parameters
    ----------
    volume : Volume
        `ground_m` over the local grid, or None.
    transform : Similarity
        Takes local x, y to the map.

    Returns
    -------
    (float, float, float, (row, column) float64) or None
        Easting and northing of the post in row 0, column 0, step, and heights, metres; rows run north. A post takes the
        height of the cell that it lies in, NaN outside.
    """
    if volume.ground_m is None:
        return None
    grid = volume.grid
    corners = np.array([[x, y] for x in grid.x_m()[[0, -1]] for y in grid.y_m()[[0, -1]]])
    low, high = transform.to_map(corners).min(axis=0), transform.to_map(corners).max(axis=0)
    step = max(float((high - low).max()) / (MOST_POSTS - 1), grid.cell_m)
    east = np.arange(low[0], high[0] + 0.5 * step, step)
    north = np.arange(low[1], high[1] + 0.5 * step, step)
    local = transform.to_local(np.stack(np.meshgrid(east, north), axis=-1))
    column = np.rint((local[..., 0] - grid.x_first_m) / grid.cell_m).astype(int)
    row = np.rint((local[..., 1] - grid.y_first_m) / grid.cell_m).astype(int)
    inside = (column >= 0) & (column < grid.columns) & (row >= 0) & (row < grid.rows)
    heights = np.full(column.shape, np.nan)
    heights[inside] = volume.ground_m[row[inside], column[inside]]
    return float(low[0]), float(low[1]), step, heights
