"""Background removal that spares a pipe running along a line.

What is flat along a line is either the radar itself (direct wave, ringing) or a reflector that runs with the
line. One line alone cannot tell them apart. Many lines can: the radar's own part is alike on every line, or at
least as large on every line; a pipe stands out on the one or two lines that run over it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridmap.model import Float32, Float64


@dataclass(frozen=True, slots=True)
class Background:
    """What is common to all lines.

    Attributes
    ----------
    common : (sample,) float32
        Median over lines of each line's median trace.
    spread : (sample,) float32
        How far a line's own flat part usually lies from `common` (1.4826 times the median absolute deviation,
        smoothed along time by the caller's window).
    """

    common: Float32
    spread: Float32


def flat_part(traces: Float32) -> Float32:
    """Median trace of a line, (sample,) float32: the part that is flat along the whole line."""
    return np.asarray(np.median(traces, axis=0), dtype=np.float32)


def common_background(flat_parts: Float32, smooth_samples: int) -> Background:
    """Join the flat parts of all lines into what is common and how far a line usually strays from it.

    Parameters
    ----------
    flat_parts : (line, sample) float32
        One `flat_part` a line, after time zero and levelling.
    smooth_samples : int
        Window along time over which the spread is averaged, samples.

    Returns
    -------
    Background
        With fewer than four lines the spread is infinite: nothing can be told apart, so nothing is spared.
    """
    common = np.median(flat_parts, axis=0)
    if len(flat_parts) < 4:
        return Background(common.astype(np.float32), np.full(common.shape, np.inf, np.float32))
    spread = 1.4826 * np.median(np.abs(flat_parts - common), axis=0)
    kernel = np.ones(smooth_samples) / smooth_samples
    smooth = np.sqrt(np.convolve(np.pad(spread**2, smooth_samples // 2, mode="edge"), kernel, mode="valid"))
    return Background(common.astype(np.float32), smooth[: len(spread)].astype(np.float32))


def remove_background(
    traces: Float32,
    along_m: Float64,
    window_m: float,
    background: Background,
    limit: float = 2.0,
) -> Float32:
    """Subtract the moving background, but never more than a line usually strays from the others.

    Parameters
    ----------
    traces : (trace, sample) float32
        Amplitude after time zero and levelling.
    along_m : (trace,) float64
        Metres along the line, increasing.
    window_m : float
        Length of the moving window, metres. Flat things shorter than half of it stay.
    background : Background
        From all lines of the survey.
    limit : float
        A line's own flat part is removed up to this many times `background.spread`; what exceeds it stays.

    Returns
    -------
    (trace, sample) float32
        New array, same unit.

    Notes
    -----
    Moving average removal is common practice; the limit by the spread over lines is this project's. The moving
    median is taken over means of short pieces, a twelfth of the window each, and interpolated back to traces.
    """
    moving = _moving_median(traces, along_m, window_m)
    own = moving - background.common
    bound = limit * background.spread
    return np.asarray(traces - background.common - np.clip(own, -bound, bound), dtype=np.float32)


def _moving_median(traces: Float32, along_m: Float64, window_m: float, pieces: int = 12) -> Float32:
    """Median over a window of the means of short pieces, (trace, sample) float32."""
    length = max(float(along_m[-1] - along_m[0]), 1e-9)
    count = int(min(len(traces), max(pieces, round(pieces * length / window_m))))
    piece = np.minimum((along_m - along_m[0]) / length * count, count - 1).astype(int)
    first = np.flatnonzero(np.diff(piece, prepend=-1))
    mean = np.add.reduceat(traces, first, axis=0) / np.diff(np.append(first, len(traces)))[:, None]
    centre = np.add.reduceat(along_m, first) / np.diff(np.append(first, len(traces)))
    half = min(pieces, len(mean)) // 2
    median = np.empty_like(mean, dtype=np.float32)
    for i in range(len(mean)):
        a = int(np.clip(i - half, 0, max(0, len(mean) - 2 * half - 1)))
        median[i] = np.median(mean[a : a + 2 * half + 1], axis=0)
    at = np.clip(np.searchsorted(centre, along_m) - 1, 0, max(0, len(centre) - 2))
    if len(centre) == 1:
        return np.repeat(median, len(traces), axis=0)
    share = np.clip((along_m - centre[at]) / (centre[at + 1] - centre[at]), 0, 1).astype(np.float32)[:, None]
    return np.asarray(median[at] * (1 - share) + median[at + 1] * share, dtype=np.float32)
