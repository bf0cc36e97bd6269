"""Posts: evenly spaced points along a line, at which its image and its values are given to the map."""

from __future__ import annotations

import numpy as np

from gridmap.model import CleanLine, Float32, Float64


def post_count(line: CleanLine, step_m: float) -> int:
    """Count the posts of a line: one every `step_m` from its first trace on."""
    return round(float(line.along_m[-1] - line.along_m[0]) / step_m) + 1


def line_posts(line: CleanLine, step_m: float) -> Float64:
    """Place the posts of a line.

    Parameters
    ----------
    line : CleanLine
        The line.
    step_m : float
        Distance between posts, metres.

    Returns
    -------
    (post, 2) float64
        Local positions on the walked path, metres.
    """
    at = line.along_m[0] + step_m * np.arange(post_count(line, step_m))
    return np.stack([np.interp(at, line.along_m, line.xy_m[:, i]) for i in range(2)], axis=1)


def at_posts(line: CleanLine, values: Float32, step_m: float) -> Float32:
    """Give each post the mean of the usable traces nearest to it.

    Parameters
    ----------
    line : CleanLine
        The line.
    values : (trace, sample) float32
        Any values of its traces.
    step_m : float
        Distance between posts, metres.

    Returns
    -------
    (post, sample) float32
        A post with no usable trace of its own takes the straight line between the posts beside it.
    """
    count = post_count(line, step_m)
    use = np.flatnonzero(line.usable)
    post = np.clip(np.rint((line.along_m[use] - line.along_m[0]) / step_m).astype(int), 0, count - 1)
    first = np.flatnonzero(np.diff(post, prepend=-1))
    share = np.diff(np.append(first, len(post)))
    mean = np.add.reduceat(values[use], first, axis=0) / share[:, None].astype(np.float32)
    known = post[first]
    if len(known) == count:
        return np.asarray(mean, dtype=np.float32)
    right = np.clip(np.searchsorted(known, np.arange(count)), 1, max(1, len(known) - 1))
    if len(known) == 1:
        return np.repeat(mean, count, axis=0)
    left = right - 1
    weight = np.clip((np.arange(count) - known[left]) / (known[right] - known[left]), 0, 1)[:, None]
    return np.asarray(mean[left] * (1 - weight) + mean[right] * weight, dtype=np.float32)
