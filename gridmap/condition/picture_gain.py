"""Automatic gain, for pictures alone: it makes every depth equally loud and so destroys relative strength."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d

from gridmap.model import Float32


def automatic_gain(traces: Float32, interval_ns: float, window_ns: float, floor: float = 0.02) -> Float32:
    """Divide each sample by the RMS of the window around it.

    Parameters
    ----------
    traces : (trace, sample) float32
        Amplitude in any unit.
    interval_ns : float
        Nanoseconds.
    window_ns : float
        Length of the window, nanoseconds; a few periods.
    floor : float
        The RMS counts as no less than this share of the largest in the picture, so that silence stays silent.

    Returns
    -------
    (trace, sample) float32
        New array without unit, RMS about 1. Never feed it to slices, migration or picks of strength.

    Notes
    -----
    Automatic gain control (Yilmaz 2001 [memory]).
    """
    width = max(3, 2 * round(0.5 * window_ns / interval_ns) + 1)
    power = uniform_filter1d(np.square(traces, dtype=np.float32), min(width, 2 * traces.shape[1] - 1), axis=1)
    rms = np.sqrt(np.maximum(power, 0.0))
    return np.asarray(traces / np.maximum(rms, floor * float(rms.max()) + 1e-30), dtype=np.float32)
