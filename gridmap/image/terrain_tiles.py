"""Tiles of sloping ground: where one plane stands for the ground around it, and where it does not."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np

from gridmap.model import Float64
from gridmap.threads import in_parts

TILE_ROWS, TILE_COLUMNS, STRETCH = 16, 64, 16
"""Cells of a tile, wide enough that its taps are worth tabling; columns of the stretches that share a height where the
plane of a tile will not do."""

MARGIN_M = 0.5
"""A tile's plane is fitted to the ground this far around it too, since antennas stand there, metres."""

PROBE_EVERY = 4
"""Cells and depths between probes of the travel-time error."""


@dataclass(frozen=True, slots=True)
class Tiles:
    """The ground of a grid as planes, one a tile, in row-major order of tiles.

    Attributes
    ----------
    slopes : (tile, 2) float64
        Rise of the ground for a metre along columns and along rows.
    miss_ns : (depth, tile) float64
        Largest two-way time by which rays to the plane miss those to the ground, nanoseconds.
    stretch_miss_ns : (depth, narrow tile) float64
        The same where each stretch of columns takes the true heights at its middle, for tiles of that width.
    """

    slopes: Float64
    miss_ns: Float64
    stretch_miss_ns: Float64


def tile_counts(shape: tuple[int, ...], width: int = TILE_COLUMNS) -> tuple[int, int]:
    """Count the tiles along rows and along columns that cover a grid of (rows, columns)."""
    return -(-shape[0] // TILE_ROWS), -(-shape[1] // width)


def lay_tiles(
    height_m: Float64,
    cell_m: float,
    depth_m: Float64,
    rms_m_per_ns: Float64,
    tangent: float,
    reach_m: float,
) -> Tiles:
    """Fit a plane to the ground of every tile, and find by how much travel times over it miss.

    Parameters
    ----------
    height_m : (row, column) float64
        Elevation of the ground at the cells' centres, metres; no NaN.
    cell_m : float
        Side of a cell, metres.
    depth_m, rms_m_per_ns : (depth,) float64
        Depths below the ground, metres, and the RMS velocity down to them.
    tangent, reach_m : float
        Of the widest angle summed; the farthest trace summed, metres.

    Returns
    -------
    Tiles
        See there.
    """
    slopes = _planes(height_m, cell_m)
    probe = (height_m, cell_m, depth_m, rms_m_per_ns, tangent, reach_m)
    over = tile_counts(height_m.shape)[1]
    count = tile_counts(height_m.shape, STRETCH)
    narrow = np.arange(count[0] * count[1])
    inside = narrow // count[1] * over + narrow % count[1] * STRETCH // TILE_COLUMNS
    return Tiles(slopes, miss_ns(*probe, slopes), miss_ns(*probe, slopes[inside], STRETCH))


def miss_ns(
    height_m: Float64,
    cell_m: float,
    depth_m: Float64,
    rms_m_per_ns: Float64,
    tangent: float,
    reach_m: float,
    slopes: Float64,
    stretch: int = 0,
) -> Float64:
    """Largest two-way travel time by which a likeness of the ground misses it, for each depth and tile.

    Parameters
    ----------
    height_m, cell_m, depth_m, rms_m_per_ns, tangent, reach_m
        As in `lay_tiles`.
    slopes : (tile, 2) float64
        Of the planes; zeros ask how far flat ground misses.
    stretch : int
        0: the likeness is the planes. Else it is the true heights at the middle of stretches of so many columns,
        which is also the width of the tiles.

    Returns
    -------
    (depth, tile) float64
        Nanoseconds. Straight rays are compared at every fourth cell and depth, in eight directions, out to three
        quarters of the aperture; what lies beyond holds a fifth of the weight.
    """
    probed = np.unique(np.append(np.arange(0, len(depth_m), PROBE_EVERY), len(depth_m) - 1))
    turn = np.arange(8) * np.pi / 4
    height_m = np.ascontiguousarray(height_m, dtype=np.float64)
    ways = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    some_m, some_rms = depth_m[probed], rms_m_per_ns[probed]
    found = np.zeros((len(probed), len(slopes)))
    in_parts(
        lambda a, b: _miss(
            height_m, cell_m, slopes, some_m, some_rms, tangent, reach_m, ways, stretch, found, a, b
        ),
        len(slopes),
    )
    nearest = np.abs(np.arange(len(depth_m))[:, None] - probed).argmin(axis=1)
    return np.asarray(found[nearest], dtype=np.float64)


def _planes(height_m: Float64, cell_m: float) -> Float64:
    """Slopes of the least-squares plane of each tile with its margin, (tile, 2)."""
    margin = round(MARGIN_M / cell_m)
    down, over = tile_counts(height_m.shape)
    slopes = np.zeros((down * over, 2))
    for tile in range(down * over):
        r, c = TILE_ROWS * (tile // over), TILE_COLUMNS * (tile % over)
        part = height_m[
            max(0, r - margin) : r + TILE_ROWS + margin, max(0, c - margin) : c + TILE_COLUMNS + margin
        ]
        # On a whole rectangle of cells the two slopes of the plane do not depend on each other.
        for k, mean in enumerate((part.mean(axis=0), part.mean(axis=1))):
            at = np.arange(len(mean)) - 0.5 * (len(mean) - 1)
            slopes[tile, k] = (mean @ at) / max(at @ at, 1e-9) / cell_m
    return slopes


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _miss(height_m, cell_m, slopes, depth_m, rms, tangent, reach_m, ways, stretch, out, first, last):  # type: ignore[no-untyped-def]
    rows, columns = height_m.shape
    width = stretch if stretch else TILE_COLUMNS
    over = (columns + width - 1) // width
    for tile in range(first, last):
        top, left = TILE_ROWS * (tile // over), width * (tile % over)
        middle = left + (min(left + width, columns) - left) // 2
        p, q = slopes[tile, 0], slopes[tile, 1]
        steep = 1.0 + p * p + q * q
        for k in range(len(depth_m)):
            z = depth_m[k]
            foot_x, foot_y = -z * p / steep, -z * q / steep
            radius = min(z / np.sqrt(steep) * tangent, reach_m)
            worst = 0.0
            for row in range(top, min(top + TILE_ROWS, rows), PROBE_EVERY):
                for column in range(left, min(left + width, columns), PROBE_EVERY):
                    for n in range(3 * len(ways)):
                        size = 0.25 * (1 + n % 3) * radius
                        j = int(np.rint((foot_y + size * ways[n // 3, 1]) / cell_m))
                        i = int(np.rint((foot_x + size * ways[n // 3, 0]) / cell_m))
                        if not (0 <= row + j < rows and 0 <= column + i < columns):
                            continue
                        level2 = (i * i + j * j) * cell_m * cell_m
                        above = height_m[row + j, column + i] - height_m[row, column]
                        like = (p * i + q * j) * cell_m
                        if stretch:
                            there = min(max(middle + i, 0), columns - 1)
                            like = height_m[row + j, there] - height_m[row, middle]
                        true = np.sqrt((z + above) ** 2 + level2)
                        worst = max(worst, abs(true - np.sqrt((z + like) ** 2 + level2)))
            out[k, tile] = 2.0 * worst / rms[k]
