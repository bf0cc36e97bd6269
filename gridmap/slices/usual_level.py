"""The usual level of echoes at each depth, and how many times it everything stands."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from gridmap.model import Float32


def over_usual_level(values: Float32) -> Float32:
    """Divide each depth by the usual level there, the median over the cells that have a value.

    Parameters
    ----------
    values : (depth, row, column) float32
        Envelope; zero or NaN where blank.

    Returns
    -------
    (depth, row, column) float32
        1 is usual; the medians are smoothed over a few depths first.
    """
    known = [v[v > 0] for v in values]
    level = np.array([np.median(v[:: max(1, len(v) // 20_000)]) if len(v) else np.inf for v in known])
    smooth = np.maximum(ndimage.gaussian_filter1d(level, 3, mode="nearest"), 1e-30)
    return np.asarray(values / smooth[:, None, None], dtype=np.float32)
