"""How alike neighbouring traces are: range and nugget for kriging, from the data along the lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.model import Float32, Float64


def fit_range(
    lines_values: Sequence[Float32], step_m: float, limits_m: tuple[float, float]
) -> tuple[float, float]:
    """Fit the range and nugget of a Matern 5/2 covariance to the correlation along lines.

    Parameters
    ----------
    lines_values : sequence of (post, window) float32
        Envelope at evenly spaced posts of each line, mean over a few windows of time.
    step_m : float
        Distance between posts, metres.
    limits_m : (float, float)
        Range is kept between these, metres.

    Returns
    -------
    range_m : float
        Length of the covariance, metres.
    nugget : float
        Share of variance that is noise from post to post, 0.01 to 0.5.

    Notes
    -----
    Correlation at up to 24 lags, median over lines and windows, then the best of a grid of ranges and nuggets
    by least squares. Along the line is the only direction in which the sampling resolves it.
    """
    lags = np.arange(1, 25)
    rows: list[Float64] = []
    for values in lines_values:
        if len(values) < 30:
            continue
        v = values - values.mean(axis=0, dtype=float)
        power = (v * v).mean(axis=0) + 1e-30
        usable = lags[lags < len(v) // 2]
        rows.append(np.array([((v[k:] * v[:-k]).mean(axis=0) / power).mean() for k in usable]))
    if not rows:
        return float(np.mean(limits_m)), 0.1
    length = min(len(r) for r in rows)
    correlation = np.median([r[:length] for r in rows], axis=0)
    distance = lags[:length] * step_m
    best = (np.inf, limits_m[0], 0.1)
    for range_m in np.geomspace(*limits_m, 24):
        h = distance / range_m
        shape = (1 + h + h * h / 3) * np.exp(-h)
        for nugget in (0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5):
            error = float(np.square(correlation - (1 - nugget) * shape).sum())
            best = min(best, (error, float(range_m), nugget))
    return best[1], best[2]
