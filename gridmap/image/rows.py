"""Traces on evenly spaced cells, row by row: the shape in which the Kirchhoff sum is fast."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numba
import numpy as np

from gridmap.image.even import EvenLine
from gridmap.model import Float32, Int64
from gridmap.threads import in_parts


@dataclass(frozen=True, slots=True)
class Rows:
    """Traces of one walking direction on the rows of a grid.

    Attributes
    ----------
    data : (sample, slot, padded column) float32
        Mean of the traces in each cell, times the width of ground that they stand for, in cells.
    weight : (slot, padded column) float32
        That width times the trust in the traces; 0 where there is none.
    at_row, slot : (entry,) int64
        Where each slot lies, increasing; beyond the outermost lines the slots inside appear mirrored.
    """

    data: Float32
    weight: Float32
    at_row: Int64
    slot: Int64


def rows_of(
    lines: Iterable[EvenLine], used: Int64, columns: int, samples: int, spacing: float, mirror: int
) -> Rows:
    """Lay the even lines of one walking direction on rows.

    Parameters
    ----------
    lines : iterable of EvenLine
        Taken one by one, so that a generator holds one line at a time. Rows that are not `used` are left out.
    used : (slot,) int64
        Rows that hold any trace, increasing.
    columns, samples : int
        Padded columns; samples of every trace.
    spacing : float
        Usual distance between lines, in cells; infinite for one line.
    mirror : int
        How many rows beyond the outermost are filled by mirrored slots.

    Returns
    -------
    Rows
        Traces that share a cell are averaged.
    """
    data = np.zeros((samples, len(used), columns), np.float32)
    count, trust = np.zeros((2, len(used), columns), np.float32)
    for line in lines:
        slot = np.searchsorted(used, line.row)
        known = (slot < len(used)) & (line.trust > 0)
        known[known] = used[slot[known]] == line.row[known]
        _add_line(
            data, count, trust, slot[known], line.column[known], line.trust[known], line.traces[known]
        )  # fmt: skip
    width = _widths(count, used, spacing) / np.maximum(count, 1)
    if (width[count > 0] != 1).any():
        in_parts(lambda a, b: _weigh(data, width, a, b), len(data))
    weight = width * trust
    at, which = _mirrored(used, mirror)
    return Rows(data, weight, at, which)


def _mirrored(used: Int64, mirror: int) -> tuple[Int64, Int64]:
    """Rows, and rows mirrored about the outermost two, with the slot that each shows."""
    slot = np.arange(len(used))
    if not len(used):
        return used, slot
    before, after = 2 * used[0] - used, 2 * used[-1] - used
    low = (before < used[0]) & (before >= used[0] - mirror)
    high = (after > used[-1]) & (after <= used[-1] + mirror)
    at = np.concatenate([before[low], used, after[high]])
    order = np.argsort(at, kind="stable")
    return at[order].astype(np.int64), np.concatenate([slot[low], slot, slot[high]])[order].astype(np.int64)


@numba.njit(cache=True)
def _add_line(data, count, trust, slot, column, share, traces):  # type: ignore[no-untyped-def]
    for i in range(len(traces)):
        count[slot[i], column[i]] += 1.0
        trust[slot[i], column[i]] += share[i]
    for k in range(data.shape[0]):
        plane = data[k]
        for i in range(len(traces)):
            plane[slot[i], column[i]] += traces[i, k]


@numba.njit(cache=True)
def _widths(count, used, spacing):  # type: ignore[no-untyped-def]
    """Half the way to the neighbours on both sides, column by column, at most three quarters of the spacing each."""
    slots, columns = count.shape
    out = np.zeros((slots, columns), np.float32)
    most = 0.75 * spacing
    for c in range(columns):
        before = -1
        for s in range(slots):
            if count[s, c] == 0.0:
                continue
            if before >= 0:
                half = min(0.5 * (used[s] - used[before]), most)
                out[before, c] += half
                out[s, c] += half
            before = s
        if before < 0:
            continue
        # The outermost have one neighbour, mirrored on the far side.
        first = 0
        while count[first, c] == 0.0:
            first += 1
        if first == before:
            out[first, c] = spacing if np.isfinite(spacing) else 1.0
        else:
            out[first, c] *= 2.0
            out[before, c] *= 2.0
    return out


@numba.njit(cache=True, nogil=True)
def _weigh(data, factor, first, last):  # type: ignore[no-untyped-def]
    for k in range(first, last):
        plane = data[k]
        for s in range(factor.shape[0]):
            for c in range(factor.shape[1]):
                plane[s, c] *= factor[s, c]


def rows_used(lines_row: Sequence[Int64], first: int, last: int) -> Int64:
    """Return the rows from `first` to before `last` that hold a trace of any line, increasing."""
    used = np.unique(np.concatenate(list(lines_row)))
    return np.asarray(used[(used >= first) & (used < last)], dtype=np.int64)
