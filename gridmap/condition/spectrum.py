"""Band-pass, shift to time zero and resampling: one pass through the spectrum, zero phase."""

from __future__ import annotations

import numba as nb
import numpy as np
from scipy import fft

from gridmap.condition.band_waves import reach_of, waves_passed
from gridmap.model import Float32, Float64

_CHUNK = 128


def band_gain(frequency_mhz: Float64, low_mhz: float, high_mhz: float, order: int = 4) -> Float64:
    """Amplitude of a zero-phase Butterworth band-pass (|H|^2 form, Butterworth 1930).

    Parameters
    ----------
    frequency_mhz : (frequency,) float64
        Where the gain is wanted, megahertz, not negative.
    low_mhz, high_mhz : float
        Corners, at which the gain is one half (-6 dB: the filter runs forward and backward).
    order : int
        Steepness of each side.

    Returns
    -------
    (frequency,) float64
        Between 0 and 1.
    """
    high = 1.0 / (1.0 + (frequency_mhz / high_mhz) ** (2 * order))
    with np.errstate(divide="ignore"):
        low = 1.0 / (1.0 + (low_mhz / np.maximum(frequency_mhz, 1e-12)) ** (2 * order))
    return np.asarray(high * low)


def to_time_zero(
    traces: Float32,
    sample_interval_ns: float,
    time_zero_ns: float,
    samples: int,
    band_mhz: tuple[float, float] | None,
    out_interval_ns: float | None = None,
) -> Float32:
    """Band-pass each trace and move its time zero to sample 0 of a common time axis.

    Parameters
    ----------
    traces : (trace, sample) float32
        Dewowed amplitude.
    sample_interval_ns : float
        Of `traces`, nanoseconds.
    time_zero_ns : float
        Time zero of these traces after their first sample, nanoseconds; any fraction of a sample.
    samples : int
        Samples wanted.
    band_mhz : (float, float) or None
        Corners of the band-pass, megahertz; None: no filter.
    out_interval_ns : float or None
        Sample interval wanted, the recorded one divided or multiplied by a whole number; None: as it is. A finer
        one is reached by zero-padding the spectrum, a coarser one by cutting it, so the band must end below its
        Nyquist frequency.

    Returns
    -------
    (trace, samples) float32
        Zero beyond the end of the record.

    Notes
    -----
    Shift theorem of the Fourier transform; exact for band-limited traces (Bracewell 1965).
    """
    n = traces.shape[1]
    ratio = sample_interval_ns / (out_interval_ns or sample_interval_ns)
    finer, coarser = max(1, round(ratio)), max(1, round(1 / ratio))
    out_ns = sample_interval_ns * coarser / finer
    # Room for the filter's tails, filled so that the record ends without a step.
    low_mhz = band_mhz[0] if band_mhz is not None else 0.0
    tail = 64 if low_mhz <= 0 else int(np.clip(1.5e3 / low_mhz / sample_interval_ns, 64, 4 * n))
    if band_mhz is not None and low_mhz > 0:
        reach = reach_of(sample_interval_ns, out_ns, (float(band_mhz[0]), float(band_mhz[1])))
        if reach is not None:
            last = min(samples, max(0, int((n - 1) * finer / coarser - time_zero_ns / out_ns) + 1))
            return waves_passed(
                np.ascontiguousarray(traces, dtype=np.float32), sample_interval_ns, time_zero_ns, coarser, finer,
                band_mhz, reach, _fade(tail), last, samples,
            )  # fmt: skip
    length = coarser * int(fft.next_fast_len(-(-(n + 2 * tail) // coarser), real=True))
    frequency = fft.rfftfreq(length, sample_interval_ns * 1e-3)
    factor = np.exp(2j * np.pi * frequency * 1e-3 * time_zero_ns)
    if band_mhz is not None:
        factor = factor * band_gain(frequency, *band_mhz)
    kept = length // coarser // 2 + 1
    factor = (factor[:kept] * (finer / coarser)).astype(np.complex64)
    if finer > 1 and length % 2 == 0:
        factor[-1] *= 0.5
    long = length * finer // coarser
    last = int((n - 1) * finer / coarser - time_zero_ns / out_ns) + 1
    last = min(samples, long, max(0, last))
    values = np.ascontiguousarray(traces, dtype=np.float32)
    out = np.zeros((len(values), samples), np.float32)
    fade = _fade(tail)
    room = np.empty((min(_CHUNK, len(values)), length), np.float32)
    for i in range(0, len(values), _CHUNK):  # Chunks that stay in the processor's cache.
        rows = values[i : i + _CHUNK]
        _fill(room, rows, fade)
        spectrum = fft.rfft(room[: len(rows)], axis=1)[:, :kept] * factor
        out[i : i + len(rows), :last] = fft.irfft(spectrum, long, axis=1, overwrite_x=True)[:, :last]
    return out


def _fade(tail: int) -> Float32:
    """Half a cosine down to zero."""
    return np.asarray(0.5 + 0.5 * np.cos(np.pi * np.arange(1, tail + 1) / tail), dtype=np.float32)


@nb.njit(cache=True, nogil=True)
def _fill(room, rows, fade):  # type: ignore[no-untyped-def]
    """Lay rows into room; behind them their last samples fade to zero, and at the very end their first fade in."""
    n, length, tail = rows.shape[1], room.shape[1], len(fade)
    for i in range(len(rows)):
        to = room[i]
        to[:n] = rows[i]
        to[n:] = np.float32(0.0)
        to[n : n + tail] = rows[i, n - 1] * fade
        to[length - tail :] += rows[i, 0] * fade[::-1]
