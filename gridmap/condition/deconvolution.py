"""Predictive deconvolution: what the past of a trace foretells, ringing and multiples, is taken off."""

from __future__ import annotations

import numpy as np
from scipy import fft

from gridmap.model import Float32, Float64


def prediction_filter(
    traces: Float32, interval_ns: float, gap_ns: float, length_ns: float, white: float = 0.01
) -> Float64:
    """Find the filter that best foretells the traces from what came a gap earlier.

    Parameters
    ----------
    traces : (trace, sample) float32
        Level from early to late, so after gain; one line or a sample of all lines.
    interval_ns : float
        Nanoseconds.
    gap_ns : float
        How far ahead is foretold, nanoseconds. One period or more leaves the pulse as it is; less makes it shorter.
    length_ns : float
        Length of the filter, nanoseconds.
    white : float
        Share of the power that is added to the zero lag, so that noise is not raised.

    Returns
    -------
    (tap,) float64
        Prediction of x[n] is sum over k of tap[k] x[n - gap - k].

    Notes
    -----
    Wiener's normal equations with the mean autocorrelation of all traces (Peacock and Treitel 1969 [memory];
    Yilmaz 2001 [memory]).
    """
    from scipy.linalg import solve_toeplitz

    gap, taps = max(1, round(gap_ns / interval_ns)), max(1, round(length_ns / interval_ns))
    samples = traces.shape[1]
    length = int(fft.next_fast_len(2 * samples, real=True))
    step = max(1, len(traces) // 500)
    power = np.mean(np.abs(fft.rfft(traces[::step], length, axis=1)) ** 2, axis=0, dtype=float)
    lags = np.asarray(fft.irfft(power, length))[: gap + taps]
    if not lags[0] > 0:
        return np.zeros(taps)
    column = lags[:taps].copy()
    column[0] *= 1 + white
    return np.asarray(solve_toeplitz(column, lags[gap : gap + taps]))


def take_off_predicted(traces: Float32, taps: Float64, interval_ns: float, gap_ns: float) -> Float32:
    """Subtract what the filter foretells.

    Parameters
    ----------
    traces : (trace, sample) float32
        As for `prediction_filter`.
    taps : (tap,) float64
        From `prediction_filter`.
    interval_ns, gap_ns : float
        As for `prediction_filter`.

    Returns
    -------
    (trace, sample) float32
        New array: the prediction error, same unit. The first `gap` samples are as they were.
    """
    gap = max(1, round(gap_ns / interval_ns))
    samples = traces.shape[1]
    if gap >= samples:
        return traces.copy()
    length = int(fft.next_fast_len(samples + len(taps), real=True))
    filtered = fft.rfft(traces, length, axis=1)
    filtered *= fft.rfft(taps.astype(np.float32), length)
    out = traces.copy()
    out[:, gap:] -= fft.irfft(filtered, length, axis=1)[:, : samples - gap]
    return out
