"""Compiled Kirchhoff sums over rows of evenly spaced cells.

Within one depth every trace at the same offset takes the same sample and the same weight, so the sum runs over
whole rows of traces at once: one contiguous multiply-add a tap, no square root inside.
"""

from __future__ import annotations

import numba
import numpy as np

from gridmap.model import Float32, Float64


@numba.njit(cache=True, parallel=True, fastmath=True, error_model="numpy")  # type: ignore[untyped-decorator]
def sum_rows(
    data: Float32,
    weight: Float32,
    row_index: np.ndarray,
    rows: int,
    pad: int,
    cell_m: float,
    separation_m: float,
    zero_offset_ns: Float64,
    rms_m_per_ns: Float64,
    interval_ns: float,
    tan_along: float,
    tan_across: float,
    reach_m: float,
    fold_every: int,
    fold_only: bool,
) -> Float32:
    """Sum traces along diffraction curves for every cell and depth.

    Parameters
    ----------
    data : (sample, line row, padded column) float32
        Traces on evenly spaced cells; zero where there is no trace.
    weight : (line row, padded column) float32
        1 where a trace is, else 0; summed instead of data when `fold_only`.
    row_index : (line row,) int64
        The cell row that each line row lies in, increasing.
    rows : int
        Cell rows of the image.
    pad : int
        Columns added on each side of `data`; no less than the widest aperture in cells.
    cell_m, separation_m : float
        Cell side; distance from transmitter to receiver, along the rows, metres.
    zero_offset_ns, rms_m_per_ns : (depth,) float64
        Vertical two-way time and RMS velocity to each depth.
    interval_ns : float
        Sample interval of `data`; its sample 0 is time zero.
    tan_along, tan_across : float
        Tangent of the widest angle from the vertical, along and across the rows.
    reach_m : float
        No trace farther than this is summed, metres.
    fold_every : int
        Only every so many depths are computed (1: all).
    fold_only : bool
        Sum `weight` instead of data.

    Returns
    -------
    (depth, row, column) float32
        Weighted sums, not normalised.
    """
    samples, line_rows, wide = data.shape
    columns = wide - 2 * pad
    depths = (len(zero_offset_ns) + fold_every - 1) // fold_every
    out = np.zeros((depths, rows, columns), np.float32)
    for k in numba.prange(depths):
        i = np.int64(k) * fold_every
        v = rms_m_per_ns[i]
        z = 0.5 * zero_offset_ns[i] * v
        along = min(max(z * tan_along, 1.5 * cell_m), reach_m)
        across = min(max(z * tan_across, 0.75 * cell_m), reach_m)
        for row in range(rows):
            target = out[np.int64(k), row]
            for line in range(line_rows):
                dy = (row_index[line] - row) * cell_m
                share = 1.0 - (dy / across) ** 2
                if share <= 0.0:
                    continue
                half = min(int(along * np.sqrt(share) / cell_m), pad)
                for step in range(-half, half + 1):
                    dx = step * cell_m
                    taper = (dx / along) ** 2 + (dy / across) ** 2
                    if taper > 1.0:
                        continue
                    square = z * z + dy * dy
                    a = np.sqrt(square + (dx - 0.5 * separation_m) ** 2)
                    b = np.sqrt(square + (dx + 0.5 * separation_m) ** 2)
                    sample = int((a + b) / (v * interval_ns) + 0.5)
                    if sample >= samples:
                        continue
                    w = np.float32((1.0 - taper) * 2.0 * z / (a + b + 1e-9))
                    if fold_only:
                        source = weight[line, pad + step : pad + step + columns]
                    else:
                        source = data[sample, line, pad + step : pad + step + columns]
                    for c in range(columns):
                        target[c] += w * source[c]
    return out
