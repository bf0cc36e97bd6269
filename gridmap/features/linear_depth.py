"""Depth to the top along a traced path, from the peak of the volume's envelope, with one standard deviation."""

from __future__ import annotations

import math

import numpy as np
from scipy import ndimage

from gridmap.features.trace import NODE_M, Traced
from gridmap.model import Float64, VelocityModel, Volume
from gridmap.model.feature import Polarity
from gridmap.velocity.peak_shift import PeakShift
from gridmap.velocity.top_depth import depth_to_top

WINDOW = 0.3
"""The peak is looked for within this share of the wavelength of the traced depth."""
SMOOTH = 2.5
"""Vertices over which the depth is smoothed."""


def peak_depths(path: Traced, volume: Volume, wavelength_m: float) -> Float64:
    """Depth at which the envelope in the volume peaks near each vertex, (vertex,) metres; NaN: no peak there."""
    grid, step = volume.grid, volume.step
    column = np.clip(
        np.rint((path.xyz_m[:, 0] - grid.x_first_m) / grid.cell_m).astype(int), 0, grid.columns - 1
    )
    row = np.clip(np.rint((path.xyz_m[:, 1] - grid.y_first_m) / grid.cell_m).astype(int), 0, grid.rows - 1)
    reach = max(2, round(WINDOW * wavelength_m / step))
    middle = np.rint((path.xyz_m[:, 2] - volume.first) / step).astype(int)
    level = np.clip(middle[:, None] + np.arange(-reach, reach + 1), 0, len(volume.values) - 1)
    near = volume.values[level, row[:, None], column[:, None]].astype(float)
    near[~np.isfinite(near)] = 0.0
    top = near.argmax(axis=1)
    inner = np.clip(top, 1, 2 * reach - 1)
    k = np.arange(len(near))
    left, peak, right = near[k, inner - 1], near[k, inner], near[k, inner + 1]
    bend = left - 2 * peak + right
    share = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    depth = volume.first + step * (level[k, inner] + np.clip(share, -1, 1))
    return np.asarray(np.where((top == inner) & (peak > 0), depth, np.nan))


def with_top(
    path: Traced,
    volume: Volume,
    velocity: VelocityModel,
    wavelength_m: float,
    frequency_mhz: float,
    height_m: float,
    polarity: Polarity,
    shift: PeakShift | None = None,
) -> tuple[Float64, float]:
    """Give the path its depth to the top.

    Parameters
    ----------
    path : Traced
        At the depth of the strongest sum.
    volume, velocity, wavelength_m, frequency_mhz, height_m
        As in `gridmap.features.drawn.Ground`.
    polarity : Polarity
        Sign of the echo.
    shift : PeakShift or None
        As in `gridmap.features.drawn.Ground`.

    Returns
    -------
    xyz_m : (vertex, 3) float64
        Local x, y and depth to the top, metres.
    depth_sd_m : float
        One standard deviation, metres.
    """
    seen = peak_depths(path, volume, wavelength_m)
    off = seen - path.xyz_m[:, 2]
    good = np.isfinite(off)
    usual = float(np.median(off[good])) if good.any() else 0.0
    scatter = 1.4826 * float(np.median(np.abs(off[good] - usual))) if good.any() else 0.25 * wavelength_m
    good &= np.abs(off - usual) <= max(3 * scatter, 0.02)
    at = np.arange(len(off))
    filled = np.interp(at, at[good], off[good]) if good.any() else np.full(len(off), usual)
    smooth = ndimage.gaussian_filter1d(filled, SMOOTH, mode="nearest")
    picks = max(1.0, good.sum() * NODE_M / 0.5)
    depth, sd = depth_to_top(
        path.xyz_m[:, 2] + smooth, velocity, frequency_mhz, height_m=height_m, target="line", polarity=polarity,
        pick_sd_m=max(scatter / math.sqrt(picks), 0.01 * wavelength_m), shift=shift,
    )  # fmt: skip
    return np.column_stack([path.xyz_m[:, :2], depth]), float(np.median(sd))
