"""The direct wave of every trace against the line's usual one: how large, how late, how unlike."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numba as nb
import numpy as np

from gridmap.condition.median import median_trace
from gridmap.condition.timezero import pick_direct_wave_ns
from gridmap.model import Float32, Float64

_MOST_TRACES = 200
_SHIFT_PERIODS = 0.6
"""The wave is looked for this far before and after its usual time."""


@dataclass(frozen=True, slots=True)
class Wave:
    """What the direct wave says, trace by trace.

    Attributes
    ----------
    usual_trace : (sample,) float32
        Median trace of the line; its first `early` samples are the usual direct wave.
    early : int
        How many samples hold it: to one period after its peak.
    peak_ns : float
        Time of its strongest peak after the first sample.
    size : float
        Largest amplitude of the usual wave, unit of the traces.
    amplitude : (trace,) float64
        Size over the usual one, 1 where nothing is wrong.
    lag_ns : (trace,) float64
        How much later than usual, nanoseconds.
    misfit : (trace,) float64
        RMS of what size and lag do not explain, over RMS of the usual wave.
    """

    usual_trace: Float32
    early: int
    peak_ns: float
    size: float
    amplitude: Float64
    lag_ns: Float64
    misfit: Float64


def measure_wave(swept: Float32, sample_interval_ns: float, period_ns: float) -> Wave:
    """Compare every trace's direct wave with the median of the line.

    Parameters
    ----------
    swept : (trace, sample) float32
        Dewowed amplitude.
    sample_interval_ns, period_ns : float
        Nanoseconds.

    Returns
    -------
    Wave
        Lag: the best whole shift by normalized correlation, then a fraction of a sample from least squares with the
        wave and its slope. Dead traces have an amplitude near 0; their lag and misfit mean nothing.
    """
    wave = median_trace(swept, _MOST_TRACES)
    peak_ns = pick_direct_wave_ns(wave[None], sample_interval_ns)
    early = min(swept.shape[1], max(8, math.ceil((peak_ns + period_ns) / sample_interval_ns)))
    usual = np.ascontiguousarray(wave[:early])
    slope = np.gradient(usual).astype(np.float32)
    most = max(1, round(_SHIFT_PERIODS * period_ns / sample_interval_ns))
    amplitude, lag, misfit = np.zeros((3, len(swept)))
    _fit(np.ascontiguousarray(swept, dtype=np.float32), usual, slope, most, amplitude, lag, misfit)
    return Wave(wave, early, peak_ns, float(np.abs(usual).max()), amplitude, lag * sample_interval_ns, misfit)


@nb.njit(cache=True, fastmath=True, nogil=True)
def _fit(traces, usual, slope, most, amplitude, lag, misfit):  # type: ignore[no-untyped-def]
    """Per trace: least squares of the wave and its slope at the best whole shift."""
    early, samples = len(usual), traces.shape[1]
    power = 1e-30
    for k in range(early):
        power += usual[k] * usual[k]
    for i in range(len(traces)):
        row = traces[i]
        best, at = -1e30, 0
        for s in range(-most, most + 1):
            c, e = 0.0, 1e-30
            for k in range(max(0, -s), min(early, samples - s)):
                c += usual[k] * row[k + s]
                e += row[k + s] * row[k + s]
            if c / math.sqrt(e) > best:
                best, at = c / math.sqrt(e), s
        ww, wd, dd, xw, xd, xx = 1e-30, 0.0, 1e-30, 0.0, 0.0, 0.0
        for k in range(max(0, -at), min(early, samples - at)):
            w, d, x = usual[k], slope[k], row[k + at]
            ww += w * w
            wd += w * d
            dd += d * d
            xw += x * w
            xd += x * d
            xx += x * x
        det = ww * dd - wd * wd
        a = (xw * dd - xd * wd) / det if det > 0 else xw / ww
        b = (xd * ww - xw * wd) / det if det > 0 else 0.0
        amplitude[i] = a
        part = -b / a if abs(a) > 1e-3 else 0.0
        lag[i] = at + min(max(part, -1.0), 1.0)
        misfit[i] = math.sqrt(max(0.0, xx - a * xw - b * xd) / power)
