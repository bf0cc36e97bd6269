"""One number a cell for each window: the root mean square of the envelope inside it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.model import Float32, Float64, Window


def window_rms(values: Float32, axis_values: Float64, windows: Sequence[Window]) -> Float32:
    """Root mean square along the first axis inside each window.

    Parameters
    ----------
    values : (z, ...) float32
        Envelope; NaN stays NaN.
    axis_values : (z,) float64
        Depth in metres or time in nanoseconds of each sample, as the windows' own axis.
    windows : sequence of Window
        All of one axis.

    Returns
    -------
    (window, ...) float32
        A window that holds no sample takes the nearest one. RMS is the usual slice statistic (Goodman et al.
        1995 [memory]) and, unlike the mean of raw amplitude, does not cancel.
    """
    out = np.empty((len(windows), *values.shape[1:]), np.float32)
    tolerance = 1e-6 * max(1.0, float(np.abs(axis_values).max()))
    for k, window in enumerate(windows):
        top, base = (
            (window.top_m, window.base_m) if window.axis == "depth" else (window.top_ns, window.base_ns)
        )
        inside = np.flatnonzero((axis_values >= top - tolerance) & (axis_values <= base + tolerance))
        if not len(inside):
            inside = np.array([np.argmin(np.abs(axis_values - 0.5 * (top + base)))])
        part = values[inside[0] : inside[-1] + 1]
        out[k] = np.sqrt(np.einsum("z...,z...->...", part, part) / len(part))
    return out
