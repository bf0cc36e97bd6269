"""The usual level of echoes at each depth."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from gridmap.model import Float32


def usual_level(values: Float32) -> Float32:
    """Return the usual level of each depth, the median over the cells that have a value.

    Parameters
    ----------
    values : (depth, row, column) float32
        Envelope; zero or NaN where blank.

    Returns
    -------
    (depth,) float32
        Smoothed over a few depths; never zero.
    """
    level = np.full(len(values), np.inf)
    for k, plane in enumerate(values):
        known = plane[plane > 0]
        if len(known):
            level[k] = np.median(known[:: max(1, len(known) // 20_000)])
    smooth = ndimage.gaussian_filter1d(level, 3, mode="nearest")
    return np.asarray(np.maximum(smooth, 1e-30), dtype=np.float32)
