"""Background removal that spares a pipe running along a line.

What is flat along a line is either the radar itself (direct wave, ringing) or a reflector that runs with the
line. One line alone cannot tell them apart. Many lines can: the radar's own part is alike on every line, or at
least as large on every line; a pipe stands out on the one or two lines that run over it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numba as nb
import numpy as np
from scipy.ndimage import uniform_filter1d

from gridmap.condition.median import median_trace, moving_median
from gridmap.model import Float32, Float64, Int64


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
    smooth_samples : int
        That window, samples.
    """

    common: Float32
    spread: Float32
    smooth_samples: int


def flat_part(traces: Float32) -> Float32:
    """Median trace of a line, (sample,) float32: the part that is flat along the whole line.

    Of 240 or more traces every n-th is taken, so that 120 to 240 count: evenly spread, they tell as much.
    """
    return median_trace(traces, 120)


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
        return Background(
            common.astype(np.float32), np.full(common.shape, np.inf, np.float32), smooth_samples
        )
    spread = 1.4826 * np.median(np.abs(flat_parts - common), axis=0)
    kernel = np.ones(smooth_samples) / smooth_samples
    smooth = np.sqrt(np.convolve(np.pad(spread**2, smooth_samples // 2, mode="edge"), kernel, mode="valid"))
    return Background(common.astype(np.float32), smooth[: len(spread)].astype(np.float32), smooth_samples)


def remove_background(
    traces: Float32,
    along_m: Float64,
    window_m: float,
    background: Background,
    limit: float = 2.0,
    by: Literal["median", "mean"] = "median",
    out: Float32 | None = None,
) -> Float32:
    """Subtract the moving background, but spare what strays farther from the other lines than lines usually do.

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
        A line's own flat part goes where its RMS over the smoothing window is under 0.75 of this many times
        `background.spread`, stays whole from 1.25 on, and goes in part between.
    by : "median" or "mean"
        How the pieces of a window are joined; the median lets short strong echoes count for nothing.
    out : (trace, sample) float32 or None
        Where the result goes, `traces` itself if wanted; None: into a new array.

    Returns
    -------
    (trace, sample) float32
        `out`, same unit.

    Notes
    -----
    Moving average removal is common practice; the limit by the spread over lines is this project's. The moving
    median (or mean) is taken over means of short pieces, a twelfth of the window each, limited, and interpolated back
    to traces.
    """
    traces = np.ascontiguousarray(traces, dtype=np.float32)
    pieces, at, share = _moving_background(traces, along_m, window_m, by)
    own = pieces - background.common
    power = uniform_filter1d(np.square(own), background.smooth_samples, axis=1, mode="nearest")
    times = np.sqrt(np.maximum(power, 0.0)) / np.maximum(background.spread, 1e-30)
    share_off = np.clip(2.5 - 2.0 * times / limit, 0.0, 1.0) if limit > 0 else np.zeros_like(times)
    off = (background.common + share_off * own).astype(np.float32)
    out = np.empty(traces.shape, np.float32) if out is None else out
    _subtract_between(traces, off, at, share, out)
    return out


def _moving_background(
    traces: Float32, along_m: Float64, window_m: float, by: Literal["median", "mean"], pieces: int = 12
) -> tuple[Float32, Int64, Float32]:
    """Median or mean over a window of the means of short pieces.

    Returns
    -------
    background : (piece, sample) float32
        At the centre of each piece.
    at, share : (trace,) int64, (trace,) float32
        Each trace lies between piece `at` and the next, this share of the way.
    """
    length = max(float(along_m[-1] - along_m[0]), 1e-9)
    count = int(min(len(traces), max(pieces, round(pieces * length / window_m))))
    piece = np.minimum((along_m - along_m[0]) / length * count, count - 1).astype(int)
    first = np.flatnonzero(np.diff(piece, prepend=-1))
    edge = np.append(first, len(traces))
    mean = np.empty((len(first), traces.shape[1]), np.float32)
    _piece_means(traces, edge, mean)
    centre = np.add.reduceat(along_m, first) / np.diff(edge)
    half = min(pieces, len(mean)) // 2
    joined = moving_median(mean, half) if by == "median" else _moving_mean(mean, half)
    if len(centre) == 1:
        return joined, np.zeros(len(traces), np.int64), np.zeros(len(traces), np.float32)
    at = np.clip(np.searchsorted(centre, along_m) - 1, 0, len(centre) - 2)
    share = np.clip((along_m - centre[at]) / (centre[at + 1] - centre[at]), 0, 1)
    return joined, at, share.astype(np.float32)


def _moving_mean(rows: Float32, half: int) -> Float32:
    """Mean over the same windows as `moving_median`."""
    first = np.clip(np.arange(len(rows)) - half, 0, max(0, len(rows) - 2 * half - 1))
    return np.array([rows[a : a + 2 * half + 1].mean(axis=0) for a in first], dtype=np.float32)


@nb.njit(cache=True, fastmath=True, nogil=True)
def _piece_means(traces, edge, mean):  # type: ignore[no-untyped-def]
    """Mean trace of each piece."""
    for p in range(len(edge) - 1):
        total = np.zeros(traces.shape[1], np.float32)
        for i in range(edge[p], edge[p + 1]):
            row = traces[i]
            for k in range(traces.shape[1]):
                total[k] += row[k]
        share = np.float32(1.0) / np.float32(edge[p + 1] - edge[p])
        for k in range(traces.shape[1]):
            mean[p, k] = total[k] * share


@nb.njit(cache=True, fastmath=True, nogil=True)
def _subtract_between(traces, off, at, share, out):  # type: ignore[no-untyped-def]
    """Subtract from each trace the two pieces beside it, shared by distance."""
    for i in range(len(traces)):
        row, to = traces[i], out[i]
        low, high = off[at[i]], off[min(at[i] + 1, len(off) - 1)]
        s = share[i]
        for k in range(traces.shape[1]):
            to[k] = row[k] - low[k] - s * (high[k] - low[k])
