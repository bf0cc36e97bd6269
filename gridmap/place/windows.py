"""Compiled sums over windows: moving means along a line, and how alike two strips are at every lag."""

from __future__ import annotations

import numba
import numpy as np

from gridmap.model import Bool, Float32, Float64, Int64
from gridmap.threads import in_parts

_TAIL = 4.0


def box_widths(sd: float) -> Int64:
    """Three odd widths of running means whose passes together have the variance of a Gaussian, steps."""
    ideal = np.sqrt(4.0 * sd * sd + 1.0)
    low = int(ideal) if int(ideal) % 2 else int(ideal) - 1
    low = max(low, 1)
    narrow = round((12 * sd * sd - 3 * low * low - 12 * low - 9) / (-4.0 * low - 4.0))
    narrow = min(max(narrow, 0), 3)
    return np.array([low] * narrow + [low + 2] * (3 - narrow), np.int64)


@numba.njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def running_sums(values: Float32, widths: Int64) -> Float32:
    """Pass running means of odd `widths` over (position, channel), one after the other; nothing beyond the ends.

    Kovesi (2010), fast almost-Gaussian filtering [memory]: sums are kept in float64.
    """
    count, channels = values.shape
    out = values.copy()
    held = np.empty_like(out)
    total = np.empty(channels, np.float64)
    for width in widths:
        if width <= 1:
            continue
        half = width // 2
        total[:] = 0.0
        for i in range(count):
            for c in range(channels):
                held[i, c] = out[i, c]
        for i in range(min(half, count)):
            for c in range(channels):
                total[c] += held[i, c]
        for i in range(count):
            if i + half < count:
                for c in range(channels):
                    total[c] += held[i + half, c]
            if i - half - 1 >= 0:
                for c in range(channels):
                    total[c] -= held[i - half - 1, c]
            for c in range(channels):
                out[i, c] = np.float32(total[c] / width)
    return out


@numba.njit(cache=True, error_model="numpy")  # type: ignore[untyped-decorator]
def between_traces(values: Float32, left: Int64, right: Int64, share: Float32, seen: Bool) -> Float32:
    """Linear interpolation between rows `left` and `right` of (trace, sample); 0 where not seen."""
    out = np.zeros((len(left), values.shape[1]), np.float32)
    for k in range(len(left)):
        if seen[k]:
            for c in range(values.shape[1]):
                out[k, c] = values[left[k], c] * (np.float32(1) - share[k]) + values[right[k], c] * share[k]
    return out


def window_taps(sd_steps: float, every: int) -> Float64:
    """Gaussian weights over blocks of `every` steps that make windows of `sd_steps`, middle one first to last."""
    sd = np.sqrt(max(sd_steps * sd_steps - (every * every - 1) / 12.0, 0.25)) / every
    reach = int(_TAIL * sd + 0.5)
    taps = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sd) ** 2)
    return np.asarray(taps / taps.sum() / every, np.float64)


def windowed_products(
    lines: Float32, seen: Bool, lags: int, parts: int, every: int, taps: Float64
) -> Float32:
    """Sum the products of every line with the next one over windows.

    Parameters
    ----------
    lines : (line, position, sample) float32
        0 where not seen.
    seen : (line, position) bool
    lags : int
        Largest lag, steps.
    parts : int
        Equal parts of the record; samples left over at its end are not used.
    every : int
        Steps between windows; window b is about position b * every.
    taps : (tap,) float64
        From `window_taps`.

    Returns
    -------
    (pair, kind, lag, window, part) float32
        Kind 0: sums of one(u) other(u + lag); 1 and 2: the energy of one and of other where both were seen; 3: the
        share of the window that both saw.
    """
    pairs, blocks = lines.shape[0] - 1, (lines.shape[1] + every - 1) // every
    out = np.zeros((pairs, 4, 2 * lags + 1, blocks, parts), np.float32)
    in_parts(lambda a, b: _products(lines, seen, lags, parts, every, taps, out, a, b), pairs)
    return out


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _products(lines, seen, lags, parts, every, taps, out, begin, end):  # type: ignore[no-untyped-def]
    count, blocks = lines.shape[1], out.shape[3]
    width = lines.shape[2] // parts
    reach = len(taps) // 2
    for i in range(begin, end):
        energy = np.zeros((2, count, parts), np.float32)
        for h in range(2):
            for u in range(count):
                for p in range(parts):
                    total = np.float32(0)
                    for w in range(p * width, p * width + width):
                        total += lines[i + h, u, w] * lines[i + h, u, w]
                    energy[h, u, p] = total
        sums = np.zeros((4, parts), np.float32)
        for b in range(blocks):
            first = max(0, b * every - every // 2)
            last = min(count, b * every - every // 2 + every)
            for k in range(2 * lags + 1):
                sums[:] = 0.0
                for u in range(first, last):
                    v = u + k - lags
                    if v < 0 or v >= count or not (seen[i, u] and seen[i + 1, v]):
                        continue
                    for p in range(parts):
                        total = np.float32(0)
                        for w in range(p * width, p * width + width):
                            total += lines[i, u, w] * lines[i + 1, v, w]
                        sums[0, p] += total
                        sums[1, p] += energy[0, u, p]
                        sums[2, p] += energy[1, v, p]
                        sums[3, p] += np.float32(1)
                for t in range(-reach, reach + 1):
                    if 0 <= b + t < blocks:
                        weight = np.float32(taps[t + reach])
                        for kind in range(4):
                            for p in range(parts):
                                out[i, kind, k, b + t, p] += weight * sums[kind, p]


def best_steady_drift(tables: Float32, who: Int64, shifts: Int64, slopes: Int64, drift: int) -> Float32:
    """Mean likeness of several pairs of lines at the drift that suits each window best.

    Parameters
    ----------
    tables : (pair, lag, window, part) float32
    who : (job, member) int64
        Pairs that are taken together.
    shifts : (job, trial, member, window) int64
        Lag of each pair for each trial, as an index; `drift` of room on either side.
    slopes : (member,) int64
        By how many lags each member moves for one step of drift, 1 or -1.
    drift : int
        Largest drift, lags.

    Returns
    -------
    (job, trial, window) float32
        Square of the mean over members, at its best drift, negative ones as 0, summed over the parts.
    """
    jobs, trials, _, windows = shifts.shape
    out = np.zeros((jobs, trials, windows), np.float32)
    in_parts(lambda a, b: _steady_drift(tables, who, shifts, slopes, drift, out, a, b), jobs)
    return out


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _steady_drift(tables, who, shifts, slopes, drift, out, begin, end):  # type: ignore[no-untyped-def]
    _, trials, members, windows = shifts.shape
    parts = tables.shape[3]
    for j in range(begin, end):
        mean = np.empty(parts, np.float32)
        most = np.empty(parts, np.float32)
        for s in range(trials):
            for w in range(windows):
                most[:] = 0.0
                for d in range(-drift, drift + 1):
                    mean[:] = 0.0
                    for i in range(members):
                        at = shifts[j, s, i, w] + slopes[i] * d
                        for p in range(parts):
                            mean[p] += tables[who[j, i], at, w, p]
                    for p in range(parts):
                        most[p] = max(most[p], mean[p])
                total = np.float32(0)
                for p in range(parts):
                    m = most[p] / np.float32(members)
                    total += m * m
                out[j, s, w] = total
