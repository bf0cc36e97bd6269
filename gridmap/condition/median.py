"""Medians over traces, sample by sample: compiled, since they are what conditioning would spend most time on."""

from __future__ import annotations

import numba as nb
import numpy as np

from gridmap.model import Float32


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
    some = np.ascontiguousarray(traces[:: max(1, len(traces) // most)].T, dtype=np.float32)
    out = np.empty(len(some), np.float32)
    _row_medians(some, out)
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


@nb.njit(cache=True, nogil=True)
def _row_medians(rows, out):  # type: ignore[no-untyped-def]
    """Median of each row; the rows are put in disorder. Quickselect (Hoare 1961 [memory])."""
    n = rows.shape[1]
    k = n // 2
    for r in range(len(rows)):
        row = rows[r]
        low, high = 0, n - 1
        while low < high:
            pivot = row[(low + high) // 2]
            i, j = low, high
            while i <= j:
                while row[i] < pivot:
                    i += 1
                while row[j] > pivot:
                    j -= 1
                if i <= j:
                    row[i], row[j] = row[j], row[i]
                    i += 1
                    j -= 1
            if k <= j:
                high = j
            elif k >= i:
                low = i
            else:
                break
        middle = row[k]
        if n % 2 == 0:
            below = row[0]
            for m in range(1, k):
                below = max(below, row[m])
            middle = np.float32(0.5) * (middle + below)
        out[r] = middle


@nb.njit(cache=True, nogil=True, fastmath=True)
def _window_medians(rows, half, out):  # type: ignore[no-untyped-def]
    """Sort the window's rows against each other, all samples at once, until the middle is in place."""
    count, samples = rows.shape
    wide = min(2 * half + 1, count)
    work = np.empty((wide, samples), np.float32)
    middle = wide // 2
    for i in range(count):
        first = min(max(i - half, 0), count - wide)
        work[:] = rows[first : first + wide]
        for top in range(wide - 1, middle - 1 - (wide + 1) % 2, -1):
            for r in range(top):
                a, b = work[r], work[r + 1]
                for k in range(samples):
                    x, y = a[k], b[k]
                    a[k] = min(x, y)
                    b[k] = max(x, y)
        if wide % 2:
            out[i] = work[middle]
        else:
            out[i] = np.float32(0.5) * (work[middle - 1] + work[middle])
