"""Ridges of the volume: narrow bands of strong echoes, measured along many directions and at several widths.

A pipe draws a band in plan that is much longer than wide. Its mean along an elongated kernel stands above the
means of the two kernels beside it; clutter and flat layers fill all three alike. (Oriented line operators and
multi-scale ridges: Lindeberg 1998; Frangi et al. 1998 [memory].)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from gridmap.model import Bool, Float32, Float64, Volume
from gridmap.slices.usual_level import usual_level

DIRECTIONS = 18
HALF_LENGTH_M = 0.45
"""Standard deviation of the kernel along the band, metres: long enough to bridge lines half a metre apart."""
FAINTEST = 0.5
"""Values weaker than this share of the usual level are raised to it, so that holes do not count as contrast."""
LOUDEST = 20.0
AT_ONCE = 8
"""Levels measured together."""
LEAST_COVER = 0.25
"""Means over kernels that lie outside the survey by more than the rest of this share are pulled towards zero."""


@dataclass(frozen=True, slots=True)
class Plane:
    """The volume made ready: coarse cells and levels, logarithm of the strength over the usual level.

    Attributes
    ----------
    values : (level, row, column) float32
        Natural logarithm; 0 where blank.
    known : (row, column) bool
        Cells near enough to a trace.
    depth_m : (level,) float64
        Depth of each level, metres.
    x_first_m, y_first_m, cell_m : float
        Centre of the first cell and side of a cell, metres.
    """

    values: Float32
    known: Bool
    depth_m: Float64
    x_first_m: float
    y_first_m: float
    cell_m: float


@dataclass(frozen=True, slots=True)
class RidgePoints:
    """Crests of the ridge measure.

    Attributes
    ----------
    xyz_m : (point, 3) float64
        Local x, y and depth, metres.
    angle_rad : (point,) float64
        Direction of the band in plan, anticlockwise from x, [0, pi).
    strength : (point,) float64
        Ridge measure over its own scatter at that depth.
    width_m : (point,) float64
        Width of the kernel that answered best, metres.
    """

    xyz_m: Float64
    angle_rad: Float64
    strength: Float64
    width_m: Float64


def make_ready(volume: Volume, wavelength_m: float, from_m: float) -> Plane:
    """Thin the volume to cells of a third and levels of a sixth of a wavelength, and take logarithms.

    Parameters
    ----------
    volume : Volume
        Envelope against depth; NaN where blank.
    wavelength_m : float
        In the ground, metres.
    from_m : float
        Shallower levels are left out.
    """
    depth = volume.axis_values()
    first = int(np.searchsorted(depth, from_m))
    every = max(1, round(wavelength_m / 6 / volume.step))
    block = max(1, round(wavelength_m / 3 / volume.grid.cell_m))
    known = np.isfinite(volume.values[-1])
    rows, columns = (n // block for n in known.shape)
    levels = (len(depth) - first) // every
    used = volume.values[first : first + levels * every]
    usual = usual_level(used)
    mean = np.empty((levels, rows, columns), np.float32)
    for k in range(levels):
        part = slice(k * every, (k + 1) * every)
        ratio = np.nan_to_num(used[part]) / usual[part, None, None]
        np.clip(ratio, FAINTEST, LOUDEST, out=ratio)
        cut = ratio[:, : rows * block, : columns * block]
        mean[k] = cut.reshape(every, rows, block, columns, block).mean(axis=(0, 2, 4))
    near = known[: rows * block, : columns * block].reshape(rows, block, columns, block).all(axis=(1, 3))
    values = np.log(np.maximum(mean, FAINTEST)).astype(np.float32)
    values -= np.array([np.median(v[near]) if near.any() else 0.0 for v in values], np.float32)[:, None, None]
    values[:, ~near] = 0.0
    half = 0.5 * (block - 1) * volume.grid.cell_m
    return Plane(
        values,
        near,
        depth[first : first + levels * every].reshape(levels, every).mean(axis=1),
        volume.grid.x_first_m + half,
        volume.grid.y_first_m + half,
        block * volume.grid.cell_m,
    )


def ridge_points(plane: Plane, widths_m: tuple[float, ...], least: float) -> RidgePoints:
    """Find the crests of the ridge measure.

    Parameters
    ----------
    plane : Plane
        From `make_ready`.
    widths_m : tuple of float
        Widths of the bands looked for, metres.
    least : float
        Crests below this many times the measure's own scatter are left out.

    Returns
    -------
    RidgePoints
        In the order of depth, row, column.
    """
    best, direction, width = _best_direction(plane, widths_m)
    crest = _crests(best, direction, plane.known, least)
    level, row, column = np.nonzero(crest)
    xyz = np.stack(
        [
            plane.x_first_m + plane.cell_m * column,
            plane.y_first_m + plane.cell_m * row,
            plane.depth_m[level],
        ],
        axis=1,
    )
    return RidgePoints(
        xyz.astype(float),
        direction[crest].astype(float) * (math.pi / DIRECTIONS),
        best[crest].astype(float),
        np.asarray(widths_m)[width[crest]],
    )


def _best_direction(
    plane: Plane, widths_m: tuple[float, ...]
) -> tuple[Float32, NDArray[np.int8], NDArray[np.int8]]:
    """Strongest ridge measure over directions and widths at each cell, and which they were."""
    values = plane.values
    pad = math.ceil(2.0 * HALF_LENGTH_M / plane.cell_m)
    shape = tuple(fft.next_fast_len(n + 2 * pad, real=True) for n in plane.known.shape)
    spectrum = fft.rfft2(values, shape)
    covered = fft.rfft2(plane.known.astype(np.float32), shape)
    best: Float32 = np.full(values.shape, -np.inf, np.float32)
    direction = np.zeros(values.shape, np.int8)
    width = np.zeros(values.shape, np.int8)
    for w, wide_m in enumerate(widths_m):
        for k in range(DIRECTIONS):
            pair = _kernels(shape, plane.cell_m, k * math.pi / DIRECTIONS, wide_m)
            inside, beside = ((kernel, _share_under(kernel, covered, shape, plane.known)) for kernel in pair)
            # A few levels at a time: what is held at once does not grow with the depth.
            for top in range(0, len(values), AT_ONCE):
                part = slice(top, top + AT_ONCE)
                answer = _mean_under(*inside, spectrum[part], shape)
                answer -= _mean_under(*beside, spectrum[part], shape)
                answer *= np.sqrt(inside[1])
                seen = np.abs(answer[:, plane.known])
                scatter = 1.4826 * np.median(seen, axis=1) if seen.size else np.ones(len(answer))
                answer /= np.maximum(scatter, 1e-6)[:, None, None].astype(np.float32)
                better = answer > best[part]
                np.copyto(best[part], answer, where=better)
                direction[part][better] = k
                width[part][better] = w
    best[:, ~plane.known] = -np.inf
    return best, direction, width


def _share_under(
    kernel: NDArray[np.complex64], covered: NDArray[np.complex64], shape: tuple[int, ...], known: Bool
) -> Float32:
    """Share of a kernel that is known, (row, column)."""
    rows, columns = known.shape
    share = fft.irfft2(covered * kernel, shape)[:rows, :columns]
    return np.asarray(np.clip(share, LEAST_COVER, 1.0), dtype=np.float32)


def _mean_under(
    kernel: NDArray[np.complex64],
    share: Float32,
    spectrum: NDArray[np.complex64],
    shape: tuple[int, ...],
) -> Float32:
    """Mean of the known cells under a kernel, (level, row, column)."""
    rows, columns = share.shape
    total = fft.irfft2(spectrum * kernel, shape, overwrite_x=True)[:, :rows, :columns]
    return np.asarray(total / share, dtype=np.float32)


def _kernels(
    shape: tuple[int, ...], cell_m: float, angle: float, width_m: float
) -> tuple[NDArray[np.complex64], NDArray[np.complex64]]:
    """Spectra of an elongated band, and of the two bands beside it."""
    y, x = np.meshgrid(*(fft.fftfreq(n, 1.0 / (n * cell_m)) for n in shape), indexing="ij")
    along = x * math.cos(angle) + y * math.sin(angle)
    across = -x * math.sin(angle) + y * math.cos(angle)
    taper = np.exp(-0.5 * (along / HALF_LENGTH_M) ** 2)
    sigma = max(width_m / 2.355, 0.4 * cell_m)

    def band(offset: float) -> Float64:
        k = taper * np.exp(-0.5 * ((across - offset) / sigma) ** 2)
        return np.asarray(k / k.sum())

    aside = max(1.25 * width_m, 2.0 * cell_m)
    pair = band(0.0), 0.5 * (band(aside) + band(-aside))
    inside, beside = (fft.rfft2(b).astype(np.complex64) for b in pair)
    return inside, beside


def _crests(best: Float32, direction: NDArray[np.int8], known: Bool, least: float) -> Bool:
    """Mark cells that are not below their neighbours in depth and across the band."""
    crest = (best >= least) & known
    crest[1:] &= best[1:] >= best[:-1]
    crest[:-1] &= best[:-1] > best[1:]
    angle = np.arange(DIRECTIONS) * math.pi / DIRECTIONS
    step_row, step_column = np.rint(np.cos(angle)).astype(int), np.rint(-np.sin(angle)).astype(int)
    level, row, column = np.nonzero(crest)
    rows, columns = known.shape
    for sign in (1, -1):
        r = np.clip(row + sign * step_row[direction[level, row, column]], 0, rows - 1)
        c = np.clip(column + sign * step_column[direction[level, row, column]], 0, columns - 1)
        keep = best[level, row, column] >= best[level, r, c]
        level, row, column = level[keep], row[keep], column[keep]
    out: Bool = np.zeros(crest.shape, bool)
    out[level, row, column] = True
    return out
