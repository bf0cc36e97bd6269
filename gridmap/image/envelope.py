"""Envelope: the strength of an echo whatever its phase."""

from __future__ import annotations

import numpy as np
from scipy import fft

from gridmap.model import Float32


def envelope(traces: Float32) -> Float32:
    """Modulus of the analytic signal along the last axis.

    Parameters
    ----------
    traces : (..., sample) float32
        Amplitude, mean near zero.

    Returns
    -------
    (..., sample) float32
        Not negative. Method: analytic signal by the discrete Fourier transform (Marple 1999).
    """
    n = traces.shape[-1]
    length = int(fft.next_fast_len(n + n // 8))
    spectrum = fft.fft(traces, length, axis=-1)
    spectrum[..., 1 : (length + 1) // 2] *= 2
    spectrum[..., length // 2 + 1 :] = 0
    return np.asarray(np.abs(fft.ifft(spectrum, axis=-1)[..., :n]), dtype=np.float32)
