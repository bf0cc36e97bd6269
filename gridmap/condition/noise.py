"""Noise floor of a line: what differs from trace to trace without being an echo."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridmap.condition.median import median_trace
from gridmap.model import Float32

_MAD_TO_SD = 1.4826
_SECOND_DIFFERENCE = 6.0**0.5
_MOST = 80


@dataclass(frozen=True, slots=True)
class NoiseFloor:
    """Noise of one line, in the unit of the traces it was measured on.

    Attributes
    ----------
    level : float
        Standard deviation of a sample late in the record.
    per_time : (sample,) float32
        The same for each time. Early on it holds what clutter changes from trace to trace too, so it is an upper
        bound there; noise of the receiver itself is `level` at every time as long as no gain was applied.
    """

    level: float
    per_time: Float32


def noise_floor(traces: Float32, interval_ns: float, window_ns: float = 5.0) -> NoiseFloor:
    """Measure the noise of a line from how each trace differs from the mean of its two neighbours.

    Parameters
    ----------
    traces : (trace, sample) float32
        One line in the order walked, usable traces only, before any gain that grows with time.
    interval_ns : float
        Sample interval, nanoseconds.
    window_ns : float
        Length of the running mean of the variance along time, nanoseconds.

    Returns
    -------
    NoiseFloor
        NaN throughout where fewer than five traces are given.

    Notes
    -----
    For noise of variance s^2 that is independent from trace to trace, x[i-1] - 2 x[i] + x[i+1] has the variance
    6 s^2; echoes, which change slowly along the line, drop out of it. Its spread is taken as 1.4826 times the
    median absolute value (normal noise; robust against a few odd traces). `level` is the median over the last
    quarter of the record, where echoes are weakest. Traces closer than about an eighth of a wavelength are
    presumed; steep limbs on coarser ones raise the value.
    """
    count, samples = traces.shape
    if count < 5:
        return NoiseFloor(float("nan"), np.full(samples, np.nan, np.float32))
    middle = np.arange(1, count - 1, max(1, count // _MOST))
    differ = np.abs(traces[middle - 1] - 2 * traces[middle] + traces[middle + 1])
    spread = _MAD_TO_SD / _SECOND_DIFFERENCE * median_trace(differ, _MOST).astype(float)
    width = max(1, min(samples, 2 * round(0.5 * window_ns / interval_ns) + 1))
    padded = np.pad(spread**2, (width // 2, width - 1 - width // 2), mode="edge")
    per_time = np.sqrt(np.convolve(padded, np.ones(width) / width, mode="valid"))
    late = per_time[-max(1, samples // 4) :]
    return NoiseFloor(float(np.median(late)), per_time.astype(np.float32))
