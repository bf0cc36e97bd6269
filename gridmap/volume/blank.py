"""Where the map may speak: distance to the nearest trace, and the mask that follows from it."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from gridmap.model import Float32, Float64, Grid


def distance_to_trace(xy_m: Float64, grid: Grid) -> Float32:
    """Distance from each cell's centre to the nearest trace.

    Parameters
    ----------
    xy_m : (trace, 2) float64
        Local positions of the traces that are used, metres.
    grid : Grid
        Cells.

    Returns
    -------
    (row, column) float32
        Metres.
    """
    y, x = np.meshgrid(grid.y_m(), grid.x_m(), indexing="ij")
    distance, _ = cKDTree(xy_m).query(np.stack([x.ravel(), y.ravel()], axis=1), workers=2)
    return np.asarray(distance, dtype=np.float32).reshape(grid.shape)
