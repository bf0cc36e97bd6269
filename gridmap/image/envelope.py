"""Envelope: the strength of an echo whatever its phase."""

from __future__ import annotations

import numpy as np
from scipy import fft

from gridmap.model import Float32

_CHUNK = 128


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
    rows = traces.reshape(-1, n)
    out = np.empty(rows.shape, np.float32)
    room = np.zeros((min(_CHUNK, len(rows)), length), np.complex64)
    half = length // 2 + 1
    for i in range(0, len(rows), _CHUNK):  # Chunks that stay in the processor's cache.
        part = rows[i : i + _CHUNK]
        spectrum = room[: len(part)]
        spectrum[:, :half] = fft.rfft(part, length, axis=1)
        spectrum[:, 1 : (length + 1) // 2] *= 2
        out[i : i + len(part)] = np.abs(fft.ifft(spectrum, axis=1)[:, :n])
    return out.reshape(traces.shape)
