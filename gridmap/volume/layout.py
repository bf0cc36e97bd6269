"""Cell size, extent and depths of the volume, chosen from spacing and wavelength."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from gridmap.model import Float64, Grid

NICE_M = (0.01, 0.02, 0.025, 0.05, 0.1)
"""Cell sizes that make round numbers on a map, metres."""

DENSE = 0.4
"""Lines no farther apart than this many wavelengths leave next to nothing between them."""


def choose_cell_m(line_m: float, trace_m: float, wavelength_m: float) -> float:
    """Choose the side of a cell.

    Parameters
    ----------
    line_m, trace_m : float
        Line spacing (may be infinite) and trace interval, metres.
    wavelength_m : float
        In the ground at the centre frequency, metres.

    Returns
    -------
    float
        The largest of `NICE_M` that is at most a quarter of the wavelength, the limit for steep limbs (Grasmueck
        2005), and no finer than half the trace interval. Where lines stand farther apart than `DENSE` wavelengths, at
        most a quarter of their spacing too, so that what is interpolated between them looks smooth; lines of an array
        measure all that there is to see, and finer cells would only cost.
    """
    smooth = wavelength_m / 4 if line_m <= DENSE * wavelength_m else line_m / 4
    wanted = max(min(smooth, wavelength_m / 4), trace_m / 2)
    fitting = [size for size in NICE_M if size <= wanted * 1.001]
    return fitting[-1] if fitting else NICE_M[0]


def choose_blank_m(line_m: float, trace_m: float, cell_m: float) -> float:
    """Choose the distance to the nearest trace beyond which cells stay blank.

    Parameters
    ----------
    line_m, trace_m : float
        Line spacing (may be infinite) and trace interval, metres.
    cell_m : float
        Side of a cell, metres.

    Returns
    -------
    float
        Three quarters of the line spacing: never blank between two neighbours, always where one is missing.
    """
    between = 0.75 * line_m if math.isfinite(line_m) else 4 * trace_m
    return max(between, 2 * cell_m)


def lay_grid(lines_xy_m: Sequence[Float64], cell_m: float, margin_m: float) -> Grid:
    """Lay a grid over all traces, with cell centres on whole multiples of the cell size.

    Parameters
    ----------
    lines_xy_m : sequence of (trace, 2) float64
        Local positions, metres.
    cell_m : float
        Side of a cell, metres.
    margin_m : float
        Room to leave around the outermost traces, metres.

    Returns
    -------
    Grid
        Smallest such grid.
    """
    low = np.min([xy.min(axis=0) for xy in lines_xy_m], axis=0) - margin_m
    high = np.max([xy.max(axis=0) for xy in lines_xy_m], axis=0) + margin_m
    first = [math.floor(v / cell_m + 1e-9) for v in low]
    last = [math.ceil(v / cell_m - 1e-9) for v in high]
    return Grid(first[0] * cell_m, first[1] * cell_m, cell_m, last[1] - first[1] + 1, last[0] - first[0] + 1)


def choose_depths(depth_max_m: float, wavelength_m: float) -> Float64:
    """Depths of the volume from 0 down, (depth,) metres, a twelfth of the wavelength or finer apart."""
    wanted = wavelength_m / 12
    step = max((s for s in (0.005, 0.01, 0.02, 0.025, 0.05) if s <= wanted), default=0.005)
    return np.asarray(step * np.arange(math.floor(depth_max_m / step + 1e-9) + 1))
