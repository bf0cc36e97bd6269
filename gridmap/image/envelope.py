"""Envelope: the strength of an echo whatever its phase."""

from __future__ import annotations

import numba as nb
import numpy as np
from scipy import fft

from gridmap.model import Float32

_CHUNK = 256


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
    length = int(fft.next_fast_len(n + n // 8, real=True))
    rows = traces.reshape(-1, n)
    out = np.empty(rows.shape, np.float32)
    for i in range(0, len(rows), _CHUNK):  # Chunks that stay in the processor's cache.
        part = np.ascontiguousarray(rows[i : i + _CHUNK], dtype=np.float32)
        spectrum = fft.rfft(part, length, axis=1)
        spectrum *= np.complex64(-1j)  # A quarter of a period late: the Hilbert transform.
        spectrum[:, 0] = 0.0
        if length % 2 == 0:
            spectrum[:, -1] = 0.0
        _modulus(part, fft.irfft(spectrum, length, axis=1, overwrite_x=True), out[i : i + _CHUNK])
    return out.reshape(traces.shape)


@nb.njit(cache=True, nogil=True, fastmath=True)
def _modulus(real, imaginary, out):  # type: ignore[no-untyped-def]
    """Row by row; `imaginary` may have more columns."""
    for i in range(len(real)):
        x, y, to = real[i], imaginary[i], out[i]
        for k in range(len(x)):
            to[k] = np.sqrt(x[k] * x[k] + y[k] * y[k])
