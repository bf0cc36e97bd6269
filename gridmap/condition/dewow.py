"""Dewow: the slow swing under a trace goes, the echoes stay."""

from __future__ import annotations

import numba as nb
import numpy as np

from gridmap.model import Float32


def dewow(traces: Float32, sample_interval_ns: float, window_ns: float) -> Float32:
    """Subtract a running mean along time.

    Parameters
    ----------
    traces : (trace, sample) float32
        Amplitude in any unit.
    sample_interval_ns : float
        Nanoseconds.
    window_ns : float
        Length of the running mean, nanoseconds. Two periods of the centre frequency or more; a shorter
        window bites into the echoes.

    Returns
    -------
    (trace, sample) float32
        New array, same unit. A constant offset goes with the swing. Before the first sample and after the last the
        trace is taken to go on as it begins and ends.

    Notes
    -----
    Residual mean filter (Gerlitz et al. 1993; as in Annan, "Practical processing of GPR data", 1999 [memory]).
    """
    half = min(max(1, round(0.5 * window_ns / sample_interval_ns)), traces.shape[1] - 1)
    out = np.empty(traces.shape, np.float32)
    _less_running_mean(np.ascontiguousarray(traces, dtype=np.float32), half, out)
    return out


@nb.njit(cache=True, fastmath=True, nogil=True)
def _less_running_mean(traces, half, out):  # type: ignore[no-untyped-def]
    """Row by row; the sum over 2 half + 1 samples is carried along in double precision."""
    count, samples = traces.shape
    share = 1.0 / (2 * half + 1)
    for i in range(count):
        row, to = traces[i], out[i]
        first, last = np.float64(row[0]), np.float64(row[samples - 1])
        total = first * half
        for k in range(half + 1):
            total += row[k] if k < samples else last
        for k in range(samples):
            to[k] = row[k] - total * share
            total += row[k + half + 1] if k + half + 1 < samples else last
            total -= row[k - half] if k >= half else first
