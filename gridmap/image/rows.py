"""Traces on evenly spaced cells, row by row: the shape in which the Kirchhoff sum is fast."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numba
import numpy as np
from scipy import fft

from gridmap.model import Float32, Float64, Grid, Int64


@dataclass(frozen=True, slots=True)
class Rows:
    """Traces of one walking direction on the rows of a grid.

    Attributes
    ----------
    data : (sample, line row, padded column) float32
        Mean of the traces in each cell; zero where there is none.
    weight : (line row, padded column) float32
        1 where a trace is, else 0.
    row_index : (line row,) int64
        Row of the grid that each line row lies in.
    rows, pad : int
        Rows of the whole grid; columns added on each side.
    turned : bool
        True where rows of `data` are columns of the grid (lines along y).
    """

    data: Float32
    weight: Float32
    row_index: Int64
    rows: int
    pad: int
    turned: bool


def rows_of(
    lines_xy_m: Sequence[Float64],
    lines_traces: Iterable[Float32],
    samples: int,
    grid: Grid,
    pad: int,
    turned: bool,
) -> Rows:
    """Bin the traces of one walking direction into cells.

    Parameters
    ----------
    lines_xy_m : sequence of (trace, 2) float64
        Local positions, metres. Traces outside the grid are left out.
    lines_traces : iterable of (trace, sample) float32
        Amplitude from time zero, in the order of `lines_xy_m`; taken one by one, so that a generator holds one
        line at a time.
    samples : int
        Samples of every trace.
    grid : Grid
        Cells no wider than a quarter wavelength, or steep limbs are lost.
    pad : int
        Empty columns to add on each side.
    turned : bool
        True for lines along y.

    Returns
    -------
    Rows
        Several traces in a cell are averaged; an empty cell between two traces of a line less than 2.5 cells
        apart is filled from them.
    """
    across, along = (0, 1) if turned else (1, 0)
    first = (grid.y_first_m, grid.x_first_m) if turned else (grid.x_first_m, grid.y_first_m)
    columns, rows = (grid.rows, grid.columns) if turned else (grid.columns, grid.rows)
    cells = [np.rint((xy[:, [along, across]] - first) / grid.cell_m).astype(np.int64) for xy in lines_xy_m]
    inside = [(c[:, 0] >= 0) & (c[:, 0] < columns) & (c[:, 1] >= 0) & (c[:, 1] < rows) for c in cells]
    used = np.unique(np.concatenate([c[ok, 1] for c, ok in zip(cells, inside, strict=True)]))
    slot = np.full(rows, -1, np.int64)
    slot[used] = np.arange(len(used))
    data = np.zeros((len(used), columns + 2 * pad, samples), np.float32)
    count = np.zeros((len(used), columns + 2 * pad), np.float32)
    for cell, ok, traces in zip(cells, inside, lines_traces, strict=True):
        _add_line(data, count, slot[np.clip(cell[:, 1], 0, rows - 1)], cell[:, 0] + pad, ok, traces)
    weight = (count > 0).astype(np.float32)
    _mean_in_place(data, count)
    _fill_small_gaps(data, weight)
    return Rows(
        np.ascontiguousarray(data.transpose(2, 0, 1)), weight, used.astype(np.int64), rows, pad, turned
    )


@numba.njit(cache=True)
def _add_line(data, count, row, column, ok, traces):  # type: ignore[no-untyped-def]
    for i in range(len(traces)):
        if ok[i]:
            count[row[i], column[i]] += 1.0
            target = data[row[i], column[i]]
            for k in range(len(target)):
                target[k] += traces[i, k]


@numba.njit(cache=True)
def _mean_in_place(data, count):  # type: ignore[no-untyped-def]
    for r in range(data.shape[0]):
        for c in range(data.shape[1]):
            if count[r, c] > 1.0:
                data[r, c] /= np.float32(count[r, c])


@numba.njit(cache=True)
def _fill_small_gaps(data, weight):  # type: ignore[no-untyped-def]
    for r in range(data.shape[0]):
        for c in range(1, data.shape[1] - 1):
            if weight[r, c] == 0.0 and weight[r, c - 1] == 1.0 and weight[r, c + 1] == 1.0:
                data[r, c] = np.float32(0.5) * (data[r, c - 1] + data[r, c + 1])
                weight[r, c] = 0.5


def differentiate(traces: Float32, interval_ns: float, order: float) -> Float32:
    """Fractional time derivative, as the Kirchhoff integral asks: order 1 in 3D, 1/2 in 2D.

    Parameters
    ----------
    traces : (trace, sample) float32
        Amplitude.
    interval_ns : float
        Sample interval, nanoseconds.
    order : float
        Multiplies the spectrum by (i omega)^order (Schneider 1978; Yilmaz 2001 [memory]).

    Returns
    -------
    (trace, sample) float32
        Unit of `traces` per nanosecond to the power `order`.
    """
    n = traces.shape[1]
    length = int(fft.next_fast_len(2 * n, real=True))
    omega = 2 * np.pi * fft.rfftfreq(length, interval_ns)
    factor = ((1j * omega) ** order).astype(np.complex64)
    return np.ascontiguousarray(fft.irfft(fft.rfft(traces, length, axis=1) * factor, length, axis=1)[:, :n])
