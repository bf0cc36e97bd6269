"""The compiled Kirchhoff sum over rows of evenly spaced cells.

Within one depth every trace at the same distance takes the same sample and the same weight, so the sum runs over
whole rows of traces at once: one contiguous multiply-add a tap.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from gridmap.model import Float32, Int64
from gridmap.threads import in_parts


def add_taps(
    data: Float32,
    at_row: Int64,
    slot: Int64,
    sample: NDArray[np.int32],
    weight: Float32,
    level: NDArray[np.int8],
    wanted: int,
    pad: int,
    first_row: int,
    out: Float32,
) -> None:
    """Add to every cell and depth the taps that one rung of the ladder serves.

    Parameters
    ----------
    data : (sample, slot, padded column) float32
        Traces on evenly spaced cells, times their weights; zero where there is no trace.
    at_row, slot : (entry,) int64
        Row of the grid, increasing, at which each slot of `data` lies; a slot may lie at several rows (mirrored).
    sample, weight, level : (depth, across, along)
        The `Taps`.
    wanted : int
        Only taps of this level are added.
    pad : int
        Columns of `data` before the first of `out`.
    first_row : int
        Row of the grid that `out` begins with.
    out : (depth, row, column) float32
        Added to.
    """
    depths = np.flatnonzero((level == wanted).any(axis=(1, 2)))
    in_parts(
        lambda a, b: _add_taps(
            data, at_row, slot, sample, weight, level, wanted, pad, first_row, out, depths[a:b]
        ),
        len(depths),
    )


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _add_taps(data, at_row, slot, sample, weight, level, wanted, pad, first_row, out, depths):  # type: ignore[no-untyped-def]
    _, rows, columns = out.shape
    reach_y, reach_x = weight.shape[1], weight.shape[2]
    for k in depths:
        for row in range(rows):
            target = out[k, row]
            low = np.searchsorted(at_row, first_row + row - reach_y + 1)
            high = np.searchsorted(at_row, first_row + row + reach_y)
            for entry in range(low, high):
                dy = abs(at_row[entry] - first_row - row)
                for dx in range(min(reach_x, pad + 1)):
                    if level[k, dy, dx] != wanted:
                        continue
                    w = weight[k, dy, dx]
                    plane = data[sample[k, dy, dx], slot[entry]]
                    right = plane[pad + dx : pad + dx + columns]
                    if dx == 0:
                        for c in range(columns):
                            target[c] += w * right[c]
                    else:
                        left = plane[pad - dx : pad - dx + columns]
                        for c in range(columns):
                            target[c] += w * (left[c] + right[c])
