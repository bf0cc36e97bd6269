"""Traces that cannot be used: dead, shaken or full of a burst."""

from __future__ import annotations

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
    early = traces[:, :early_samples]
    peak = np.abs(early).max(axis=1)
    usual = median_trace(early, 120)
    size = np.sqrt(np.mean(np.square(usual)))
    misfit = np.sqrt(np.mean(np.square(early - usual), axis=1)) / max(float(size), 1e-30)
    late = np.sqrt(np.square(traces[:, traces.shape[1] // 2 :], dtype=np.float32).mean(axis=1))
    burst = late > 5.0 * max(float(np.median(late)), 1e-30)
    return np.asarray((peak < 0.2 * np.median(peak)) | (misfit > 0.3) | burst)
