"""What each trace says of each window of time: the values that time slices are gridded from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.image.envelope import envelope
from gridmap.model import CleanLine, Float32, Window
from gridmap.slices.reduce import window_rms


def trace_windows(line: CleanLine, interval_ns: float, windows: Sequence[Window]) -> Float32:
    """RMS of the envelope in each window, not migrated.

    Parameters
    ----------
    line : CleanLine
        Conditioned line.
    interval_ns : float
        Its sample interval, nanoseconds.
    windows : sequence of Window
        Of time.

    Returns
    -------
    (trace, window) float32
        Same unit as the traces.
    """
    strength = envelope(line.traces).T
    time_ns = interval_ns * np.arange(len(strength), dtype=np.float64)
    return np.ascontiguousarray(window_rms(strength, time_ns, windows).T)
