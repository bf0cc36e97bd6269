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
    """Four rows at a time, so that no sum waits for the one before; sums in double precision from the first sample."""
    count, samples = traces.shape
    share = 1.0 / (2 * half + 1)
    sums = np.empty((4, samples + 2 * half + 2), np.float64)
    last = samples - 1
    for top in range(0, count, 4):
        a, b = traces[top], traces[min(top + 1, count - 1)]
        c, d = traces[min(top + 2, count - 1)], traces[min(top + 3, count - 1)]
        at, bt, ct, dt = 0.0, 0.0, 0.0, 0.0
        for k in range(half + 1):
            sums[0, k], sums[1, k], sums[2, k], sums[3, k] = at, bt, ct, dt
            if k < half:
                at, bt, ct, dt = at + a[0], bt + b[0], ct + c[0], dt + d[0]
        for k in range(samples):
            at, bt, ct, dt = at + a[k], bt + b[k], ct + c[k], dt + d[k]
            j = half + 1 + k
            sums[0, j], sums[1, j], sums[2, j], sums[3, j] = at, bt, ct, dt
        for k in range(half):
            at, bt, ct, dt = at + a[last], bt + b[last], ct + c[last], dt + d[last]
            j = half + 1 + samples + k
            sums[0, j], sums[1, j], sums[2, j], sums[3, j] = at, bt, ct, dt
        for r in range(min(4, count - top)):
            row, to = traces[top + r], out[top + r]
            low, high = sums[r, :samples], sums[r, 2 * half + 1 : 2 * half + 1 + samples]
            for k in range(samples):
                to[k] = np.float32(row[k] - (high[k] - low[k]) * share)
