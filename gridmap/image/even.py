"""Uneven traces to even ones: a line's traces as means over the cells that it crosses."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from scipy import fft

from gridmap.model import Float32, Float64, Int64

FILLED = 0.65
"""How much a value filled in counts in the sum of weights. With 1 an even reflector would keep its strength at the end
of a line and a lone diffractor lose up to 3.5 dB; with 0 the reflector would swell by 3 dB or more and the diffractor
keep its strength. Between the two neither is off by more than 2 dB."""


@dataclass(frozen=True, slots=True)
class EvenLine:
    """One trace a column.

    Attributes
    ----------
    column, row : (post,) int64
        Padded column and row of the grid.
    trust : (post,) float32
        1 where traces are, `FILLED` where the value is filled in, 0 where there is none.
    traces : (post, sample) float32
        Amplitude; beyond the line's ends, mirrored.
    """

    column: Int64
    row: Int64
    trust: Float32
    traces: Float32


def even_places(
    along_m: Float64,
    across_m: Float64,
    first_m: float,
    across_first_m: float,
    cell_m: float,
    columns: int,
    pad: int,
    shift: int = 0,
) -> tuple[Int64, Int64]:
    """Find the columns that a line crosses, `pad` more at each end, and its row in each.

    Parameters
    ----------
    along_m, across_m : (trace,) float64
        Position along and across the rows, metres; along increasing or falling on the whole.
    first_m, across_first_m : float
        Position of column 0 and row 0, metres.
    cell_m : float
        Cell side, metres.
    columns, pad : int
        Columns wanted, without the `pad` on each side.
    shift : int
        Column of the grid that these begin at: columns and rows are then those of the whole grid, to the last bit.

    Returns
    -------
    column, row : (post,) int64
        Columns counted with the pad, all of them between the two ends; beyond the ends the line goes straight on.
    """
    rising, across = _rising(along_m, across_m)
    at = (rising - first_m) / cell_m
    low = max(int(np.rint(at[0])) - pad, shift - pad)
    high = min(int(np.rint(at[-1])) + pad, shift + columns - 1 + pad)
    column = np.arange(low, high + 1)
    run = min(len(at) - 1, max(1, round(0.5 / max(cell_m, 1e-9))))
    y = np.interp(column, at, across)
    for end, step, beyond in ((0, run, column < at[0]), (-1, -1 - run, column > at[-1])):
        slope = (
            (across[step] - across[end]) / max(abs(at[step] - at[end]), 1e-9) * np.sign(at[step] - at[end])
        )
        if abs(slope) < 1.1 * cell_m:
            y[beyond] = across[end] + slope * (column[beyond] - at[end])
    return column - shift + pad, np.rint((y - across_first_m) / cell_m).astype(np.int64)


def _rising(along_m: Float64, other: Float64) -> tuple[Float64, Float64]:
    """Turn a line so that its position rises; where it steps back it is held."""
    if along_m[-1] < along_m[0]:
        along_m, other = along_m[::-1], other[::-1]
    return np.maximum.accumulate(along_m) + 1e-9 * np.arange(len(along_m)), other


def even_traces(
    along_m: Float64,
    traces: Float32,
    column: Int64,
    first_m: float,
    cell_m: float,
    bridge_m: float,
) -> tuple[Float32, Float32]:
    """Average a line over the cells that it crosses.

    Parameters
    ----------
    along_m : (trace,) float64
        Position along the rows, metres.
    traces : (trace, sample) float32
        Amplitude.
    column : (post,) int64
        Columns wanted, one after the other, without pad.
    first_m, cell_m : float
        Position of column 0; cell side, metres.
    bridge_m : float
        Widest gap between traces that the straight line between its two rims is trusted across, metres.

    Returns
    -------
    traces : (post, sample) float32
        The mean over the cell of the straight line from trace to trace, so that crowded traces count no more than
        sparse ones (trapezoid rule). Beyond the ends and in wider gaps the line is mirrored, as an even reflector
        would go on: a sum that ends abruptly swells and sags like the shadow of an edge.
    trust : (post,) float32
        As in `EvenLine`.
    """
    if along_m[-1] < along_m[0]:
        along_m, traces = along_m[::-1], traces[::-1]
    at = (np.maximum.accumulate(along_m) + 1e-9 * np.arange(len(along_m)) - first_m) / cell_m
    usual = 1.5 * max(float(np.median(np.diff(at))) if len(at) > 1 else 1.0, 1.0)
    out = np.zeros((len(column), traces.shape[1]), np.float32)
    cover, trust = np.zeros((2, len(column)), np.float32)
    _average(
        at, np.ascontiguousarray(traces), int(column[0]), usual, bridge_m / cell_m, np.float32(FILLED),
        out, cover, trust,
    )  # fmt: skip
    known = cover > 0
    out[known] /= cover[known, None]
    trust[known] /= cover[known]
    source = _mirror(known)
    fill = ~known & (source >= 0)
    out[fill] = out[source[fill]]
    trust[fill] = FILLED
    return out, trust


@numba.njit(cache=True)
def _average(at, traces, first, usual, bridge, filled, out, cover, trust):  # type: ignore[no-untyped-def]
    """Integrate the straight line from trace to trace over each cell; `at`, `usual`, `bridge` in cells."""
    last = len(out) - 1
    for i in range(len(at) - 1):
        low, high = at[i], at[i + 1]
        if high - low > bridge:
            continue
        share = np.float32(1.0) if high - low <= usual else filled
        for k in range(max(int(np.rint(low)) - first, 0), min(int(np.rint(high)) - first, last) + 1):
            a = max(low, k + first - 0.5)
            b = min(high, k + first + 0.5)
            if b <= a:
                continue
            f = (0.5 * (a + b) - low) / (high - low)
            one, two = np.float32((b - a) * (1 - f)), np.float32((b - a) * f)
            cover[k] += one + two
            trust[k] += share * (one + two)
            target = out[k]
            for s in range(len(target)):
                target[s] += one * traces[i, s] + two * traces[i + 1, s]
    # A trace alone between wide gaps stands for the cell that it lies in.
    for i in range(len(at)):
        k = int(np.rint(at[i])) - first
        if 0 <= k <= last and cover[k] == 0.0:
            cover[k] = 1.0
            trust[k] = 1.0
            for s in range(out.shape[1]):
                out[k, s] = traces[i, s]


def _mirror(known: np.ndarray) -> Int64:
    """For each unknown post, the post mirrored about the nearest known one; -1 where that is not known either."""
    n = len(known)
    at = np.arange(n)
    source = np.full(n, -1, np.int64)
    here = np.flatnonzero(known)
    if len(here) == 0:
        return source
    after = np.searchsorted(here, at)
    left, right = here[np.maximum(after - 1, 0)], here[np.minimum(after, len(here) - 1)]
    nearest = np.where(np.abs(at - left) <= np.abs(right - at), left, right)
    image = 2 * nearest - at
    ok = (image >= 0) & (image < n)
    ok[ok] = known[image[ok]]
    source[ok] = image[ok]
    return source


def differentiate(traces: Float32, interval_ns: float, order: float) -> Float32:
    """Fractional derivative against time, as the Kirchhoff integral asks: order 1 in 3D, 1/2 in 2D.

    A sum along a curve that bends downward delays by an eighth of a period for each dimension summed over (stationary
    phase); this undoes it, so that a pulse keeps its shape.

    Parameters
    ----------
    traces : (trace, sample) float32
        Amplitude.
    interval_ns : float
        Sample interval, nanoseconds.
    order : float
        Multiplies the spectrum by (-i omega)^order (Schneider 1978; Yilmaz 2001 [memory]).

    Returns
    -------
    (trace, sample) float32
        Unit of `traces` per nanosecond to the power `order`.
    """
    n = traces.shape[1]
    length = int(fft.next_fast_len(n + n // 4 + 16, real=True))
    omega = 2 * np.pi * fft.rfftfreq(length, interval_ns)
    factor = ((-1j * omega) ** order).astype(np.complex64)
    return np.ascontiguousarray(fft.irfft(fft.rfft(traces, length, axis=1) * factor, length, axis=1)[:, :n])
