"""What a Kirchhoff sum is divided by: the weights that were summed."""

from __future__ import annotations

import numpy as np

from gridmap.model import Float32

FOLD_EVERY = 4
"""Weights are summed at every so many depths, and filled in between."""


def divide_by_fold(image: Float32, fold: Float32, peak: Float32) -> None:
    """Divide by the weights summed, filled in between depths; cells that hardly saw any of the `peak` are not blown up.

    Parameters
    ----------
    image : (depth, row, column) float32
        As summed; divided in place.
    fold : (depth / `FOLD_EVERY`, row, column) float32
        Weights summed.
    peak : (depth / `FOLD_EVERY`,) float32
        Their largest in the whole survey.
    """
    full = np.maximum(peak, 1e-20)
    for k in range(len(image)):
        at = min(k / FOLD_EVERY, len(fold) - 1)
        low = int(at)
        high, share = min(low + 1, len(fold) - 1), np.float32(at - low)
        level = (1 - share) * full[low] + share * full[high]
        image[k] /= (1 - share) * fold[low] + share * fold[high] + np.float32(0.05) * level


def fold_peak(fold: Float32) -> Float32:
    """Return the largest weight summed at each depth, (depth / `FOLD_EVERY`,)."""
    return np.asarray(fold.reshape(len(fold), -1).max(axis=1), np.float32)


def usual_fold(fold: Float32) -> Float32:
    """Return the weight that the best covered tenth of the cells exceeds at each depth, (depth / `FOLD_EVERY`,)."""
    return np.asarray(np.percentile(fold.reshape(len(fold), -1), 90, axis=1), np.float32)


def coverage_of(fold: Float32, usual: Float32) -> Float32:
    """Return the weights summed over their usual level, 0 to 1."""
    return np.asarray(np.minimum(fold / np.maximum(usual, 1e-20)[:, None, None], 1), np.float32)
