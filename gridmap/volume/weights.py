"""Interpolation as weights: found once from where the traces are, applied to every sample at once."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np

from gridmap.model import Float32, Int64
from gridmap.threads import in_parts


@dataclass(frozen=True, slots=True)
class Weights:
    """A sparse matrix by rows: out[i] = sum over k of value[k] * data[index[k]], start[i] <= k < start[i+1].

    Attributes
    ----------
    start : (row + 1,) int64
        Where each row's entries begin.
    index : (entry,) int64
        Which input each entry takes.
    value : (entry,) float32
        Its weight. Rows sum to 1, or are empty: no input is near enough.
    """

    start: Int64
    index: Int64
    value: Float32

    def apply(self, data: Float32) -> Float32:
        """Weigh inputs (input, sample) float32 into outputs (row, sample) float32; empty rows are NaN."""
        data = np.ascontiguousarray(data)
        out = np.empty((len(self.start) - 1, data.shape[1]), np.float32)
        in_parts(lambda a, b: _apply(self.start, self.index, self.value, data, out, a, b), len(out), 64)
        return out


@numba.njit(cache=True, nogil=True, fastmath=True)
def _apply(start, index, value, data, out, first, last):  # type: ignore[no-untyped-def]
    for row in range(first, last):
        target = out[row]
        if start[row] == start[row + 1]:
            target[:] = np.nan
            continue
        target[:] = 0.0
        for k in range(start[row], start[row + 1]):
            w = value[k]
            source = data[index[k]]
            for s in range(len(target)):
                target[s] += w * source[s]
