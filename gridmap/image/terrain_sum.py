"""Compiled Kirchhoff sum below uneven ground: depth from the ground down, travel times between true heights.

Within one tile of nearly even slope all cells share their taps, tabled once a depth, so that the sum runs over
contiguous stretches of rows as it does below flat ground. Where the ground bends, short stretches of columns take the
travel times from the true heights at their middle; where it bends too much for these, each cell has its own.
"""

from __future__ import annotations

import numba
import numpy as np

from gridmap.image.terrain_tiles import STRETCH, TILE_COLUMNS, TILE_ROWS
from gridmap.model import Bool, Float32, Float64


@numba.njit(cache=True, parallel=True, fastmath=True, error_model="numpy")  # type: ignore[untyped-decorator]
def sum_below_ground(
    data: Float32,
    weight: Float32,
    row_index: np.ndarray,
    height_m: Float32,
    slopes: Float64,
    rough: Bool,
    stretch_rough: Bool,
    pad: int,
    cell_m: float,
    separation_m: float,
    zero_offset_ns: Float64,
    rms_m_per_ns: Float64,
    interval_ns: float,
    tangent: float,
    reach_m: float,
    spacing_m: tuple[float, float],
    limit_mhz: Float64,
    passed: Float64,
    rung: int,
    fold_every: int,
) -> Float32:
    """Sum traces along diffraction curves for every cell and depth below its own ground.

    Parameters
    ----------
    data : (rung, sample, slot, padded column) float32
        Traces on evenly spaced cells, times their weights, zero where there is none; as the rungs of the ladder from
        `rung` on hold them.
    weight : (slot, padded column) float32
        Their weights.
    row_index : (slot,) int64
        Row of the grid that each slot lies in, increasing.
    pad : int
        Columns of `data` before the first of the image; no less than the widest aperture and the farthest foot of a
        perpendicular together.
    cell_m, separation_m : float
        Cell side; transmitter to receiver, along the rows, metres.
    zero_offset_ns, rms_m_per_ns : (depth,) float64
        Vertical two-way time and RMS velocity to each depth.
    interval_ns : float
        Sample interval of `data`.
    height_m : (row, padded column) float32
        Elevation of the ground less its mean, metres; that of the antennas too, which lie on it.
    slopes : (tile, 2) float64
        Rise of the ground for a metre along and across the rows, for each tile of
        `gridmap.image.terrain_tiles.TILE_COLUMNS`.
    rough : (depth, tile) bool
        Tiles whose plane will not do.
    stretch_rough : (depth, narrow tile) bool
        Where each cell of a rough tile takes travel times of its own, for tiles of `STRETCH` columns.
    tangent : float
        Of the widest angle from the perpendicular to the ground.
    reach_m : float
        No trace farther than this from the foot of the perpendicular is summed, metres.
    spacing_m : (float, float)
        Of traces along the rows and of lines across, metres: what the operator must not alias on.
    limit_mhz, passed : (rung,) float64
        Of the `Ladder`.
    rung : int
        First of the rungs whose taps are summed; -1: weights are summed instead of data, over all rungs.
    fold_every : int
        Only every so many depths (1: all).

    Returns
    -------
    (depth, row, column) float32
        Weighted sums, not normalised.

    Notes
    -----
    Straight rays from transmitter and receiver on the ground to the point, at the RMS velocity of its depth. The
    aperture is centred on the foot of the perpendicular from the point to its tile's plane. A ray that leaves the
    ground through a hollow is taken at the ground's velocity.
    """
    fold_only = rung < 0
    rows = height_m.shape[0]
    columns = data.shape[3] - 2 * pad
    depths = (len(zero_offset_ns) + fold_every - 1) // fold_every
    over = (columns + TILE_COLUMNS - 1) // TILE_COLUMNS
    narrow_over = (columns + STRETCH - 1) // STRETCH
    out = np.zeros((depths, rows, columns), np.float32)
    for k in numba.prange(depths):
        level = np.int64(k) * fold_every
        v = rms_m_per_ns[level]
        z = 0.5 * zero_offset_ns[level] * v
        side = 2 * int(reach_m / cell_m) + 7
        tap_weight = np.zeros((side, side), np.float32)
        tap_sample = np.zeros((side, side), np.int32)
        tap_level = np.zeros((side, side), np.int8)
        tap_extra = np.zeros((side, side), np.float32)
        own_sample = np.zeros(max(side, STRETCH), np.int32)
        rate = 2.0 / (v * interval_ns)
        for tile in range(len(slopes)):
            top, left = TILE_ROWS * (tile // over), TILE_COLUMNS * (tile % over)
            base, right = min(top + TILE_ROWS, rows), min(left + TILE_COLUMNS, columns)
            first_j, last_j, first_i, last_i = _table_taps(
                tap_weight, tap_sample, tap_level, tap_extra, slopes[tile, 0], slopes[tile, 1], z, 0.5 * rate,
                data.shape[1], pad, cell_m, separation_m, tangent, reach_m, spacing_m, limit_mhz, passed, rung,
                rung + len(data), 2.0 / v,
            )  # fmt: skip
            for row in range(top, base):
                target = out[np.int64(k), row]
                for line in range(len(row_index)):
                    j = row_index[line] - row
                    if j < first_j or j > last_j:
                        continue
                    w = tap_weight[j - first_j]
                    if fold_only or not rough[level, tile]:
                        for i in range(first_i, last_i + 1):
                            if w[i - first_i] <= 0.0:
                                continue
                            start = pad + i + left
                            if fold_only:
                                source = weight[line, start : start + right - left]
                            else:
                                at = tap_sample[j - first_j, i - first_i]
                                copy = tap_level[j - first_j, i - first_i]
                                source = data[copy, at, line, start : start + right - left]
                            _add(target[left:right], source, w[i - first_i])
                        continue
                    for edge in range(left, right, STRETCH):
                        far = min(edge + STRETCH, right)
                        narrow = tile // over * narrow_over + edge // STRETCH
                        _add_stretch(
                            target[edge:far], data[:, :, line], height_m[row_index[line]],
                            height_m[row, pad + edge : pad + far], pad + edge, first_i, last_i, w,
                            tap_extra[j - first_j], tap_level[j - first_j], own_sample, z, j * cell_m, cell_m, rate,
                            stretch_rough[level, narrow],
                        )  # fmt: skip
    return out


@numba.njit(inline="always", fastmath=True, error_model="numpy")
def _table_taps(  # type: ignore[no-untyped-def]
    weight,
    sample,
    level,
    extra,
    p,
    q,
    z,
    inverse,
    samples,
    pad,
    cell_m,
    separation_m,
    tangent,
    reach_m,
    spacing_m,
    limit_mhz,
    passed,
    rung,
    rung_end,
    slowness,
):
    """Fill in weight and sample of every tap below a plane of slopes p and q; return the rows and columns they span.

    `extra` is what a tap's time adds to twice the way from the mid-point, in samples, with the half that rounds.
    """
    steep = 1.0 + p * p + q * q
    normal = z / np.sqrt(steep)
    foot_x, foot_y = -z * p / steep, -z * q / steep
    along = min(max(normal * tangent / np.sqrt(1.0 + p * p), 1.5 * cell_m), reach_m)
    across = min(max(normal * tangent / np.sqrt(1.0 + q * q), 0.75 * cell_m), reach_m)
    first_i = max(int(np.ceil((foot_x - along) / cell_m)), -pad)
    last_i = min(int(np.floor((foot_x + along) / cell_m)), pad)
    first_j = int(np.ceil((foot_y - across) / cell_m))
    last_j = int(np.floor((foot_y + across) / cell_m))
    rise = 0.5 * separation_m * p
    for j in range(first_j, last_j + 1):
        dy = j * cell_m
        near = 1.0 - ((dy - foot_y) / across) ** 2
        for i in range(first_i, last_i + 1):
            dx = i * cell_m
            up = z + p * dx + q * dy
            a = np.sqrt(dy * dy + (up - rise) ** 2 + (dx - 0.5 * separation_m) ** 2)
            b = np.sqrt(dy * dy + (up + rise) ** 2 + (dx + 0.5 * separation_m) ** 2)
            keep = near - ((dx - foot_x) / along) ** 2
            path = (a + b) * inverse
            at = int(path + 0.5)
            middle = np.sqrt(dy * dy + up * up + dx * dx) + 1e-9
            steepest = slowness * max(
                spacing_m[0] * abs(dx + up * p) / middle, spacing_m[1] * abs(dy + up * q) / middle
            )
            own = 0
            while own < len(limit_mhz) and limit_mhz[own] * 2e-3 * steepest > 1.0:
                own += 1
            if at >= samples or own == len(limit_mhz) or (rung >= 0 and (own < rung or own >= rung_end)):
                keep = 0.0
            elif rung < 0:
                keep *= passed[own]
            weight[j - first_j, i - first_i] = keep * 2.0 * normal / (a + b + 1e-9)
            sample[j - first_j, i - first_i] = min(at, samples - 1)
            level[j - first_j, i - first_i] = own - max(rung, 0) if keep > 0.0 else 0
            extra[j - first_j, i - first_i] = path - 2.0 * inverse * middle + 0.5
    return first_j, last_j, first_i, last_i


@numba.njit(fastmath=True, error_model="numpy")
def _add(target, source, w):  # type: ignore[no-untyped-def]
    for c in range(len(target)):
        target[c] += w * source[c]


@numba.njit(fastmath=True, error_model="numpy")
def _add_stretch(  # type: ignore[no-untyped-def]
    target,
    data,
    antenna_m,
    ground_m,
    at,
    first_i,
    last_i,
    weight,
    extra,
    copy,
    sample,
    z,
    dy,
    cell_m,
    rate,
    own,
):
    """Add all taps of one line to a stretch of cells, at travel times of true heights.

    `own`: each cell takes its own; else all take those of the middle one.
    """
    samples = data.shape[1]
    count = len(target)
    if own:
        depth_m = (np.float32(z) - ground_m).astype(np.float32)
        for i in range(first_i, last_i + 1):
            w = weight[i - first_i]
            if w <= 0.0:
                continue
            square = np.float32(dy * dy + i * i * cell_m * cell_m)
            start = at + i
            for c in range(count):
                up = depth_m[c] + antenna_m[start + c]
                sample[c] = np.int32(np.sqrt(up * up + square) * np.float32(rate) + extra[i - first_i])
            for c in range(count):
                if sample[c] < samples:
                    target[c] += w * data[copy[i - first_i], sample[c], start + c]
        return
    up0 = np.float32(z) - ground_m[count // 2]
    middle = at + count // 2
    for i in range(first_i, last_i + 1):
        up = up0 + antenna_m[middle + i]
        square = np.float32(dy * dy) + np.float32(i * cell_m) ** 2
        sample[i - first_i] = np.int32(np.sqrt(up * up + square) * np.float32(rate) + extra[i - first_i])
    for i in range(first_i, last_i + 1):
        if weight[i - first_i] > 0.0 and sample[i - first_i] < samples:
            source = data[copy[i - first_i], sample[i - first_i], at + i : at + i + count]
            _add(target, source, weight[i - first_i])
