"""Traces that hold no echo: dead ones and bursts."""

from __future__ import annotations

import numpy as np

from gridmap.model import Bool, Float32


def faulty_traces(traces: Float32, early_samples: int) -> Bool:
    """Say which traces are dead (no direct wave) or hold a burst (late part far above the line's own).

    Parameters
    ----------
    traces : (trace, sample) float32
        Dewowed amplitude, sample 0 at time zero or shortly before.
    early_samples : int
        How many samples hold the direct wave.

    Returns
    -------
    (trace,) bool
        True: not to be used. Limits: direct wave under a fifth of the line's median, late RMS over five times
        the line's median (both this project's choice).
    """
    early = np.abs(traces[:, :early_samples]).max(axis=1)
    late = np.sqrt(np.square(traces[:, traces.shape[1] // 2 :], dtype=np.float32).mean(axis=1))
    return np.asarray((early < 0.2 * np.median(early)) | (late > 5.0 * max(float(np.median(late)), 1e-30)))
