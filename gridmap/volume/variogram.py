"""How alike neighbouring traces are: range and nugget for kriging, from the data along the lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.model import Float32, Float64


def fit_range(
    lines_along_m: Sequence[Float64],
    lines_values: Sequence[Float32],
    lag_m: float,
    limits_m: tuple[float, float],
) -> tuple[float, float]:
    """Fit the range and nugget of a Matern 5/2 covariance to the correlation along lines.

    Parameters
    ----------
    lines_along_m : sequence of (trace,) float64
        Metres along each line, increasing.
    lines_values : sequence of (trace, window) float32
        Envelope of each trace, mean over a few windows of time.
    lag_m : float
        Step between lags, metres; about the trace interval.
    limits_m : (float, float)
        Range is kept between these, metres.

    Returns
    -------
    range_m : float
        Length of the covariance, metres.
    nugget : float
        Share of variance that is noise from trace to trace, 0.01 to 0.5.

    Notes
    -----
    Correlation at up to 24 lags, median over lines and windows, then the best of a grid of ranges and nuggets
    by least squares. Along the line is the only direction in which the sampling resolves it.
    """
    lags = np.arange(1, 25)
    rows: list[Float64] = []
    for along, values in zip(lines_along_m, lines_values, strict=True):
        step = float(np.median(np.diff(along)))
        even = np.arange(along[0], along[-1], max(lag_m, step))
        if len(even) < 30:
            continue
        nearest = np.clip(np.searchsorted(along, even), 0, len(along) - 1)
        v = values[nearest].astype(float)
        v -= v.mean(axis=0)
        power = (v * v).mean(axis=0) + 1e-30
        rows.append(
            np.array([((v[k:] * v[:-k]).mean(axis=0) / power).mean() for k in lags if k < len(v) // 2])
        )
    rows = [r for r in rows if len(r)]
    if not rows:
        return float(np.mean(limits_m)), 0.1
    length = min(len(r) for r in rows)
    correlation = np.median([r[:length] for r in rows], axis=0)
    distance = lags[:length] * lag_m
    best = (np.inf, limits_m[0], 0.1)
    for range_m in np.geomspace(*limits_m, 24):
        h = distance / range_m
        shape = (1 + h + h * h / 3) * np.exp(-h)
        for nugget in (0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5):
            error = float(np.square(correlation - (1 - nugget) * shape).sum())
            best = min(best, (error, float(range_m), nugget))
    return best[1], best[2]
