"""Dewow: the slow swing under a trace goes, the echoes stay."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d

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
        New array, same unit. A constant offset goes with the swing.

    Notes
    -----
    Residual mean filter (Gerlitz et al. 1993; as in Annan, "Practical processing of GPR data", 1999 [memory]).
    """
    samples = max(3, 2 * round(0.5 * window_ns / sample_interval_ns) + 1)
    swing = uniform_filter1d(traces, min(samples, 2 * traces.shape[1] - 1), axis=1, mode="nearest")
    return np.asarray(traces - swing, dtype=np.float32)
