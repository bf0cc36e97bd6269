"""What the lines say of each window of time: the values that time slices are gridded from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.image.envelope import envelope
from gridmap.image.posts import at_posts, post_count
from gridmap.model import CleanLine, Float32, Window
from gridmap.slices.reduce import window_rms


def post_windows(
    lines: Sequence[CleanLine], interval_ns: float, windows: Sequence[Window], step_m: float
) -> list[Float32]:
    """RMS of the envelope in each window at the posts of each line, not migrated.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned lines.
    interval_ns : float
        Their sample interval, nanoseconds.
    windows : sequence of Window
        Of time.
    step_m : float
        Distance between posts, metres.

    Returns
    -------
    list of (post, window) float32
        One a line, all parts of one array; same unit as the traces.
    """
    counts = [post_count(line, step_m) for line in lines]
    whole = np.empty((sum(counts), len(windows)), np.float32)
    parts = np.split(whole, np.cumsum(counts)[:-1])
    for line, part in zip(lines, parts, strict=True):
        strength = envelope(line.traces).T
        time_ns = interval_ns * np.arange(len(strength), dtype=np.float64)
        part[:] = at_posts(line, np.ascontiguousarray(window_rms(strength, time_ns, windows).T), step_m)
    return parts
