"""Medians over traces, sample by sample: compiled, since they are what conditioning would spend most time on."""

from __future__ import annotations

import numba as nb
import numpy as np

from gridmap.model import Float32

_ABREAST = 64
"""Samples sorted side by side: 64 columns of 200 rows stay in the processor's first cache, or nearly."""


def median_trace(traces: Float32, most: int) -> Float32:
    """Median over traces of each sample.

    Parameters
    ----------
    traces : (trace, sample) float32
        At least one trace.
    most : int
        About how many traces count: of twice as many or more, every n-th is taken. Evenly spread along a line they
        tell as much as all, since neighbours are alike.

    Returns
    -------
    (sample,) float32
        Of an even number of values the mean of the middle two, as numpy.median has it.
    """
    out = np.empty(traces.shape[1], np.float32)
    _column_medians(np.ascontiguousarray(traces, dtype=np.float32), max(1, len(traces) // most), out)
    return out


def moving_median(rows: Float32, half: int) -> Float32:
    """Median over 2 half + 1 neighbouring rows; near the ends the window stays whole and leans inward.

    Parameters
    ----------
    rows : (row, sample) float32
        At least 2 half + 1 of them, or fewer, all of which then count.
    half : int
        Rows to each side.

    Returns
    -------
    (row, sample) float32
        New array.
    """
    out = np.empty(rows.shape, np.float32)
    _window_medians(np.ascontiguousarray(rows, dtype=np.float32), half, out)
    return out


@nb.njit(cache=True, nogil=True, fastmath=True)
def _column_medians(rows, step, out):  # type: ignore[no-untyped-def]
    """Median of each column over every `step`-th row.

    Many columns at once: every exchange of the sorting network works on whole vectors.

    Batcher's merge exchange, for any number of rows (Knuth, The Art of Computer Programming 3, 5.2.2 M [memory]).
    """
    samples = rows.shape[1]
    count = (len(rows) + step - 1) // step
    work = np.empty(count * _ABREAST, np.float32)
    half = 1
    while 2 * half < count:
        half *= 2
    middle, even = count // 2 * _ABREAST, count % 2 == 0
    for first in range(0, samples, _ABREAST):
        wide = min(_ABREAST, samples - first)
        for i in range(count):
            for k in range(_ABREAST):
                work[i * _ABREAST + k] = rows[i * step, first + k] if k < wide else np.float32(0.0)
        p = half if count > 1 else 0
        while p > 0:
            q, r, d = half, 0, p
            while True:
                for i in range(r, count - d, 2 * p):  # p rows against the p rows that lie d below
                    size = min(p, count - d - i) * _ABREAST
                    a = work[i * _ABREAST : i * _ABREAST + size]
                    b = work[(i + d) * _ABREAST : (i + d) * _ABREAST + size]
                    for k in range(size):
                        x, y = a[k], b[k]
                        a[k] = min(x, y)
                        b[k] = max(x, y)
                if q == p:
                    break
                d, q, r = q - p, q // 2, p
            p //= 2
        for k in range(wide):
            out[first + k] = work[middle + k]
            if even:
                out[first + k] = np.float32(0.5) * (work[middle + k] + work[middle - _ABREAST + k])


@nb.njit(cache=True, nogil=True, fastmath=True)
def _window_medians(rows, half, out):  # type: ignore[no-untyped-def]
    """Sort the window's rows against each other, all samples at once, until the middle is in place."""
    count, samples = rows.shape
    wide = min(2 * half + 1, count)
    work = np.empty((wide, samples), np.float32)
    middle = wide // 2
    for i in range(count):
        first = min(max(i - half, 0), count - wide)
        for r in range(wide):
            for k in range(samples):
                work[r, k] = rows[first + r, k]
        for top in range(wide - 1, middle - 1 - (wide + 1) % 2, -1):
            for r in range(top):
                a, b = work[r], work[r + 1]
                for k in range(samples):
                    x, y = a[k], b[k]
                    a[k] = min(x, y)
                    b[k] = max(x, y)
        other = middle - 1 + wide % 2  # the mean of the middle two, or twice the middle one
        for k in range(samples):
            out[i, k] = np.float32(0.5) * (work[other, k] + work[middle, k])
