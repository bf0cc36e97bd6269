"""Traces that cannot be used: dead, shaken or full of a burst."""

from __future__ import annotations

import numba as nb
import numpy as np

from gridmap.condition.median import median_trace
from gridmap.model import Bool, Float32


def faulty_traces(traces: Float32, early_samples: int) -> Bool:
    """Say which traces are dead, shaken or hold a burst.

    Parameters
    ----------
    traces : (trace, sample) float32
        Dewowed amplitude, from the first sample recorded.
    early_samples : int
        How many samples hold the direct wave.

    Returns
    -------
    (trace,) bool
        True: not to be used. Dead: direct wave under a fifth of the line's median. Shaken: direct wave off the
        line's median wave by more than 30 % RMS. Burst: RMS of the later half over five times the line's median.
        The limits are this project's choice: on simulated surveys 99 % of good traces stay under 12 % RMS.
    """
    usual = median_trace(traces[:, :early_samples], 120)
    size = max(float(np.sqrt(np.mean(np.square(usual)))), 1e-30)
    peak, misfit, late = np.empty((3, len(traces)), np.float32)
    _sizes(np.ascontiguousarray(traces, dtype=np.float32), usual, peak, misfit, late)
    burst = late > 5.0 * max(float(np.median(late)), 1e-30)
    return np.asarray((peak < 0.2 * np.median(peak)) | (misfit > 0.3 * size) | burst)


@nb.njit(cache=True, fastmath=True, nogil=True)
def _sizes(traces, usual, peak, misfit, late):  # type: ignore[no-untyped-def]
    """Of each trace: largest early amplitude, RMS early difference from the usual, RMS of the later half."""
    samples, early = traces.shape[1], len(usual)
    half = samples // 2
    for i in range(len(traces)):
        row, end = traces[i, :early], traces[i, half:]
        most, off, power = np.float32(0.0), np.float32(0.0), np.float32(0.0)
        for k in range(early):
            most = max(most, abs(row[k]))
            off += (row[k] - usual[k]) * (row[k] - usual[k])
        for k in range(samples - half):
            power += end[k] * end[k]
        peak[i] = most
        misfit[i] = np.sqrt(off / np.float32(early))
        late[i] = np.sqrt(power / np.float32(samples - half))
