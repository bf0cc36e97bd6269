"""Regions of high amplitude in thin slabs of the volume: where an outline may be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from gridmap.model import Bool, Float32, Float64, Volume
from gridmap.slices.usual_level import usual_level

FAINTEST = 3.0
"""A region's peak stands at least this many times above the usual level of its depth."""
MOST_SEEDS = 4000
"""Peaks looked at, strongest first: bounds the time on a survey full of echoes."""
HALF_WINDOW_M = 1.5
"""Half the side of the window that a region is first grown in; doubled while the region reaches its rim."""
SLABS_AT_ONCE = 8
"""Slabs whose peaks are looked for together: what is held at once does not grow with the depth."""
LIMB_SHARE = 0.25
"""A region claims the slabs this many wavelengths above and below, where its echo rises and dies."""


@dataclass(frozen=True, slots=True)
class Slabs:
    """Amplitude over the usual level, in windows of depth a quarter wavelength thick, half overlapping.

    Attributes
    ----------
    values : (slab, row, column) float32
        Root mean square over the window, 1 is usual; 0 where blank.
    depth_m : (slab,) float64
        Middle of each window, metres.
    known : (row, column) bool
        Where the survey reaches.
    """

    values: Float32
    depth_m: Float64
    known: Bool


@dataclass(frozen=True, slots=True)
class Region:
    """Connected cells of one slab above half the amplitude of its plateau.

    Attributes
    ----------
    slab : int
        Which slab.
    row, column : int
        First row and column of `inside` on the grid.
    inside : (row, column) bool
        The cells.
    plateau, ground : float
        Amplitude over the usual level: of the region's bright part, and of the ground around.
    other : (row, column) bool or None
        Cells of the same body's other legs, not to be fitted with this one.
    """

    slab: int
    row: int
    column: int
    inside: Bool
    plateau: float
    ground: float
    other: Bool | None = None

    def box(self) -> tuple[slice, slice]:
        """Rows and columns of `inside` on the grid."""
        rows, columns = self.inside.shape
        return slice(self.row, self.row + rows), slice(self.column, self.column + columns)


def cut_slabs(volume: Volume, wavelength_m: float, smooth_m: float, from_m: float, to_m: float) -> Slabs:
    """Cut the volume into overlapping slabs of amplitude over the usual level.

    Parameters
    ----------
    volume : Volume
        Envelope against depth.
    wavelength_m : float
        In the ground at the centre frequency, metres.
    smooth_m : float
        Standard deviation of the smoothing of power in plan, metres; it moves the half-amplitude edge of a plate some
        0.6 of this outward, to the safe side for whoever digs beside it.
    from_m, to_m : float
        Depths wanted: above lie the remains of the direct wave, below the end of the record.

    Returns
    -------
    Slabs
        Step an eighth of the wavelength.
    """
    values = volume.values
    usual = usual_level(values)
    thick = max(1, round(wavelength_m / 4 / volume.step))
    step = max(1, thick // 2)
    first = max(0, round((from_m - volume.first) / volume.step))
    last = min(len(values), round((to_m - volume.first) / volume.step) + 1)
    tops = np.arange(first, max(first + 1, last - thick + 1), step)
    known = np.isfinite(values[0])
    share = _smooth(known.astype(np.float32), smooth_m / volume.grid.cell_m)
    slabs = np.empty((len(tops), *known.shape), np.float32)
    for k, top in enumerate(tops):
        part = np.nan_to_num(values[top : top + thick]) / usual[top : top + thick, None, None]
        mean = np.einsum("zyx,zyx->yx", part, part) / np.float32(len(part))
        mean = _smooth(mean * known, smooth_m / volume.grid.cell_m)
        slabs[k] = np.sqrt(mean / np.maximum(share, 0.05)) * known
    depth = volume.first + volume.step * (tops + 0.5 * (thick - 1))
    return Slabs(slabs, np.asarray(depth, dtype=np.float64), known)


def _smooth(plane: Float32, cells: float) -> Float32:
    return ndimage.gaussian_filter(plane, cells) if cells > 0.3 else plane


def grow_regions(slabs: Slabs, cell_m: float, wavelength_m: float) -> list[Region]:
    """Grow a region from every peak that no stronger region has claimed, strongest first.

    Parameters
    ----------
    slabs : Slabs
        From `cut_slabs`.
    cell_m : float
        Side of a cell, metres.
    wavelength_m : float
        In the ground, metres.

    Returns
    -------
    list of Region
        A region holds the cells joined to its peak above half the plateau's amplitude, with the power of the
        ground around taken off both: E^2 = S^2 + N^2, and the edge of a wide plane reflector stands at S / 2.
    """
    values = slabs.values
    reach = max(1, round(0.3 / cell_m))
    peak = peaks(values, reach)
    seeds = np.argwhere(peak)
    seeds = seeds[np.argsort(-values[peak], kind="stable")][:MOST_SEEDS]
    claimed = np.zeros(values.shape, bool)
    step_m = float(slabs.depth_m[1] - slabs.depth_m[0]) if len(slabs.depth_m) > 1 else wavelength_m
    limb = max(1, round(LIMB_SHARE * wavelength_m / step_m))
    rim = max(1, round(0.1 / cell_m))
    regions = []
    for k, r, c in seeds.tolist():
        if claimed[k, r, c]:
            continue
        region = grow_from(slabs, k, r, c, cell_m)
        box = (slice(max(0, k - limb), k + limb + 1), *region.box())
        claimed[box] |= ndimage.binary_dilation(region.inside, iterations=rim)
        regions.append(region)
    return regions


def peaks(values: Float32, reach: int) -> Bool:
    """Mark what stands out and is the greatest within `reach` cells and a slab, a few slabs at a time."""
    peak: Bool = np.empty(values.shape, bool)
    for top in range(0, len(values), SLABS_AT_ONCE):
        base, above = min(top + SLABS_AT_ONCE, len(values)), min(top, 1)
        greatest = ndimage.maximum_filter(values[top - above : base + 1], (3, reach, reach))
        part = values[top:base]
        peak[top:base] = (part > FAINTEST) & (part == greatest[above : above + base - top])
    return peak


def grow_from(slabs: Slabs, k: int, r: int, c: int, cell_m: float) -> Region:
    """Grow one region from its peak, in a window that widens until the region fits."""
    plane = slabs.values[k]
    half = max(4, round(HALF_WINDOW_M / cell_m))
    while True:
        top, left = max(0, r - half), max(0, c - half)
        window = plane[top : r + half + 1, left : c + half + 1]
        known = slabs.known[top : r + half + 1, left : c + half + 1]
        ground = float(np.median(window[known]))
        plateau = float(window[r - top, c - left])
        inside = np.zeros(window.shape, bool)
        for _ in range(2):
            edge = half_amplitude(plateau, ground)
            label, _ = ndimage.label(window >= edge)
            inside = label == label[r - top, c - left]
            if not inside[r - top, c - left]:  # the peak itself lies below: keep the first
                break
            plateau = float(np.percentile(window[inside], 75))
        rows, columns = np.flatnonzero(inside.any(1)), np.flatnonzero(inside.any(0))
        fits = (
            (top == 0 or rows[0] > 0)
            and (left == 0 or columns[0] > 0)
            and (top + window.shape[0] == plane.shape[0] or rows[-1] < window.shape[0] - 1)
            and (left + window.shape[1] == plane.shape[1] or columns[-1] < window.shape[1] - 1)
        )
        if fits or half > max(plane.shape):
            margin = 3
            y0, x0 = max(0, rows[0] - margin), max(0, columns[0] - margin)
            part = inside[y0 : rows[-1] + margin + 1, x0 : columns[-1] + margin + 1]
            return Region(k, top + int(y0), left + int(x0), part, plateau, ground)
        half *= 2


def half_amplitude(plateau: float, ground: float) -> float:
    """Amplitude at the edge of a wide plane reflector amid incoherent echoes of the ground."""
    return float(np.sqrt(ground**2 + 0.25 * max(plateau**2 - ground**2, 0.0)))
