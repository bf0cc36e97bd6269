"""Short faults mended from what lies beside them: spikes in time, single dead traces along the line."""

from __future__ import annotations

import numba as nb
import numpy as np

from gridmap.condition.median import median_trace
from gridmap.model import Bool, Float32, Float64

_MAD_TO_SD = 1.4826


def repair_spikes(
    traces: Float32, sample_interval_ns: float, longest_ns: float, limit: float = 12.0
) -> tuple[Float32, Bool]:
    """Replace spikes: short runs of samples that neither the time before and after nor the neighbours show.

    Parameters
    ----------
    traces : (trace, sample) float32
        One line as recorded.
    sample_interval_ns : float
        Nanoseconds.
    longest_ns : float
        Longest spike that is mended, nanoseconds; an eighth of a period keeps every echo safe.
    limit : float
        How far a sample must stand out, in robust standard deviations of its time, from both neighbouring traces
        and from the straight line across the run, both as it is and with the neighbours' mean taken off.

    Returns
    -------
    traces : (trace, sample) float32
        The input itself where nothing was found, else a copy with the runs replaced by straight lines.
    repaired : (trace, sample) bool
        True where a sample was replaced.

    Notes
    -----
    Deviations are judged by 1.4826 times the median absolute deviation at each time, the largest of five
    neighbouring times. An echo with the band of the antenna cannot pass the test: over an eighth of a period it
    departs from a straight line by less than a tenth of its peak, and neighbouring traces show it too.
    """
    count, samples = traces.shape
    found = np.zeros(traces.shape, bool)
    longest = max(1, int(longest_ns / sample_interval_ns + 1e-6))
    if count < 3 or samples < longest + 4:
        return traces, found
    some = np.arange(1, count - 1, max(1, count // 64))
    off = np.minimum(np.abs(traces[some] - traces[some - 1]), np.abs(traces[some] - traces[some + 1]))
    wide = np.pad(_MAD_TO_SD * median_trace(off, 150), 2, mode="edge")
    spread = np.max([wide[i : i + samples] for i in range(5)], axis=0)
    spread = np.maximum(spread, 1e-6 * float(np.abs(traces[some]).max()) + 1e-30).astype(np.float32)
    rows = np.flatnonzero(_rows_in_doubt(np.ascontiguousarray(traces), np.float32(limit) * spread))
    if not rows.size:
        return traces, found
    out = traces.copy()
    for row in rows.tolist():
        left, right = traces[max(row - 1, 0)], traces[min(row + 1, count - 1)]
        left, right = (right if row == 0 else left), (left if row == count - 1 else right)
        off = np.minimum(np.abs(traces[row] - left), np.abs(traces[row] - right))
        suspect = off > np.float32(limit) * spread
        beside = 0.5 * (left + right)
        _mend_row(traces[row], beside, out[row], found[row], suspect, spread, longest, limit)
    return (out if found.any() else traces), found


@nb.njit(cache=True, nogil=True, fastmath=True)
def _rows_in_doubt(traces, bound):  # type: ignore[no-untyped-def]
    """Say which traces have a sample farther than its bound from both neighbouring traces."""
    count = traces.shape[0]
    doubt = np.zeros(count, np.bool_)
    for i in range(count):
        row = traces[i]
        left, right = traces[1 if i == 0 else i - 1], traces[count - 2 if i == count - 1 else i + 1]
        beyond = 0
        for k in range(traces.shape[1]):
            beyond += (abs(row[k] - left[k]) > bound[k]) & (abs(row[k] - right[k]) > bound[k])
        doubt[i] = beyond > 0
    return doubt


@nb.njit(cache=True, nogil=True)
def _mend_row(row, beside, out, found, suspect, spread, longest, limit):  # type: ignore[no-untyped-def]
    """Mend the runs of one trace that are short enough and stand out from the straight line across them."""
    samples = row.shape[0]
    i = 1
    while i < samples - 1:
        if not suspect[i]:
            i += 1
            continue
        end = i
        while end < samples and suspect[end]:
            end += 1
        if end - i <= longest and end < samples:
            low, high = row[i - 1], row[end]
            bend_low, bend_high = low - beside[i - 1], high - beside[end]
            clear = True
            for k in range(i, end):
                share = (k - i + 1) / (end - i + 1)
                line = low + (high - low) * share
                bend = row[k] - beside[k] - bend_low - (bend_high - bend_low) * share
                clear &= min(abs(row[k] - line), abs(bend)) > limit * spread[k]
            if clear:
                for k in range(i, end):
                    out[k] = low + (high - low) * (k - i + 1) / (end - i + 1)
                    found[k] = True
        i = end


def fill_dead(
    traces: Float32,
    dead: Bool,
    along_m: Float64,
    longest_m: float,
    late_from: int,
    least_likeness: float = 0.6,
) -> tuple[Float32, Bool]:
    """Interpolate short runs of dead traces where the traces on both sides are alike.

    Parameters
    ----------
    traces : (trace, sample) float32
        One line, without offset.
    dead : (trace,) bool
        Traces that are not to be used.
    along_m : (trace,) float64
        Metres along the line, increasing.
    longest_m : float
        Longest gap that is bridged, from the last good trace to the next, metres. Up to a quarter of a wavelength
        in the ground nothing is aliased.
    late_from : int
        First sample after the direct wave; likeness is judged from there on.
    least_likeness : float
        Correlation of the two traces beside the gap that is asked for.

    Returns
    -------
    traces : (trace, sample) float32
        The input itself where nothing was filled, else a copy.
    filled : (trace,) bool
        True where a trace was interpolated, linearly in metres.
    """
    filled = np.zeros(len(traces), bool)
    out = traces
    edge = np.flatnonzero(np.diff(np.concatenate([[False], dead, [False]]).astype(int)))
    for first, end in edge.reshape(-1, 2):
        if first == 0 or end == len(traces):
            continue
        left, right = first - 1, end
        if along_m[right] - along_m[left] > longest_m * (1 + 1e-9):
            continue
        a, b = traces[left, late_from:].astype(float), traces[right, late_from:].astype(float)
        if float(a @ b) < least_likeness * float(np.sqrt((a @ a) * (b @ b))) or not (a @ a) * (b @ b) > 0:
            continue
        if out is traces:
            out = traces.copy()
        share = (along_m[first:end] - along_m[left]) / (along_m[right] - along_m[left])
        out[first:end] = traces[left] + share[:, None].astype(np.float32) * (traces[right] - traces[left])
        filled[first:end] = True
    return out, filled
