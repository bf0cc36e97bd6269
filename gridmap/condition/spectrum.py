"""Band-pass, shift to time zero and resampling: one pass through the spectrum, zero phase."""

from __future__ import annotations

import numpy as np
from scipy import fft

from gridmap.model import Float32, Float64


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
        Sample interval wanted; None: as it is. A finer one is reached by zero-padding the spectrum.

    Returns
    -------
    (trace, samples) float32
        Zero beyond the end of the record.

    Notes
    -----
    Shift theorem of the Fourier transform; exact for band-limited traces (Bracewell 1965).
    """
    n = traces.shape[1]
    out_ns = out_interval_ns or sample_interval_ns
    ratio = max(1, round(sample_interval_ns / out_ns))
    out_ns = sample_interval_ns / ratio
    # Room for the filter's tails on both sides, filled so that the record ends without a step.
    low_mhz = band_mhz[0] if band_mhz is not None else 0.0
    tail = 64 if low_mhz <= 0 else int(np.clip(2.5e3 / low_mhz / sample_interval_ns, 64, 4 * n))
    length = int(fft.next_fast_len(n + 2 * tail, real=True))
    frequency = fft.rfftfreq(length, sample_interval_ns * 1e-3)
    factor = np.exp(2j * np.pi * frequency * 1e-3 * time_zero_ns)
    if band_mhz is not None:
        factor = factor * band_gain(frequency, *band_mhz)
    padded = np.zeros((len(traces), length), np.float32)
    padded[:, :n] = traces
    fade = (0.5 + 0.5 * np.cos(np.pi * np.arange(1, tail + 1) / tail)).astype(np.float32)
    padded[:, n : n + tail] = traces[:, -1:] * fade
    padded[:, length - tail :] = traces[:, :1] * fade[::-1]
    spectrum = fft.rfft(padded, axis=1)
    spectrum *= factor.astype(np.complex64)
    if ratio > 1 and length % 2 == 0:
        spectrum[:, -1] *= 0.5
    wide = fft.irfft(spectrum, length * ratio, axis=1)[:, : min(samples, length * ratio)]
    out = np.zeros((len(traces), samples), np.float32)
    last = min(samples, wide.shape[1], max(0, int((n - 1) * ratio - time_zero_ns / out_ns) + 1))
    out[:, :last] = wide[:, :last] * np.float32(ratio)
    return out
