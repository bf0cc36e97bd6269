"""Level slices: from depth below uneven ground to one elevation a slice."""

from __future__ import annotations

import math

import numpy as np

from gridmap.model import Float32, Float64, Volume, Window


def level_windows(
    ground_m: Float64, depth_max_m: float, thickness_m: float, overlap: float
) -> tuple[Window, ...]:
    """Windows of elevation from the highest ground down to where the lowest ground's volume ends.

    Parameters
    ----------
    ground_m : (row, column) float64
        Elevation of the ground where the map speaks, metres; NaN elsewhere.
    depth_max_m : float
        Depth of the volume, metres.
    thickness_m, overlap : float
        As in `gridmap.slices.window.depth_windows`.

    Returns
    -------
    tuple of Window
        At least one. Their datum is the highest ground, rounded up to a centimetre.
    """
    datum = math.ceil(float(np.nanmax(ground_m)) * 100 - 1e-6) / 100
    reach = datum - float(np.nanmin(ground_m)) + depth_max_m
    step = max(round(thickness_m * (1 - overlap), 2), 0.01)
    count = max(1, math.floor((reach - thickness_m) / step + 1e-6) + 1)
    nan = float("nan")
    return tuple(
        Window("elevation", round(i * step, 4), round(i * step + thickness_m, 4), nan, nan, datum)
        for i in range(count)
    )


def level_rms(volume: Volume, ground_m: Float64, windows: tuple[Window, ...]) -> Float32:
    """Root mean square of a volume inside each window of elevation.

    Parameters
    ----------
    volume : Volume
        Over depth below the ground.
    ground_m : (row, column) float64
        Elevation of the ground, metres.
    windows : tuple of Window
        Of elevation, one datum.

    Returns
    -------
    (window, row, column) float32
        NaN where no sample of the volume lies in the window: above the ground, or below the volume's end.
    """
    depth_m = volume.axis_values()
    out = np.full((len(windows), *volume.grid.shape), np.nan, np.float32)
    square = np.zeros((len(depth_m) + 1, *volume.grid.shape))
    np.cumsum(volume.values.astype(np.float64) ** 2, axis=0, out=square[1:])
    for k, window in enumerate(windows):
        upper, lower = window.elevation_m
        first = np.ceil((ground_m - upper - volume.first) / volume.step - 1e-6)
        last = np.floor((ground_m - lower - volume.first) / volume.step + 1e-6)
        first = np.clip(np.nan_to_num(first), 0, len(depth_m)).astype(np.int64)
        last = np.clip(np.nan_to_num(last) + 1, 0, len(depth_m)).astype(np.int64)
        count = last - first
        total = np.take_along_axis(square, np.maximum(last, first)[None], 0) - np.take_along_axis(
            square, first[None], 0
        )
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.sqrt(np.maximum(total[0], 0.0) / count)
        out[k] = np.where((count > 0) & np.isfinite(ground_m), mean, np.nan)
    return out
