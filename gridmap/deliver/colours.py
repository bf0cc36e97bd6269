"""Colour tables, uniform to the eye and safe for colour-blind readers; one scale for all slices."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import OurFaultError
from gridmap.model import Float32, Float64

Table = NDArray[np.uint8]

TABLES = ("cividis", "viridis", "grey", "blue-orange")
"""Names that `table` knows: the first is for slices, "grey" for radargrams, the last for signed values."""

_MOST_SAMPLES = 1_000_000
_WHITE_D65 = np.array([0.95047, 1.0, 1.08883])
_XYZ_TO_RGB = np.array(
    [
        [3.2404542, -1.5371385, -0.4985314],
        [-0.969266, 1.8760108, 0.041556],
        [0.0556434, -0.2040259, 1.0572252],
    ]
)


@cache
def table(name: str) -> Table:
    """Return a colour table.

    Parameters
    ----------
    name : str
        One of `TABLES`.

    Returns
    -------
    (256, 3) uint8
        sRGB, from the lowest value to the highest; read-only.

    Raises
    ------
    OurFaultError
        If the name is unknown.

    Notes
    -----
    cividis (Nunez, Anderton and Renslow 2018, doi:10.1371/journal.pone.0199239) and viridis (Smith and
    van der Walt 2015) are the CC0 tables that matplotlib carries. "blue-orange" is ours: even steps in
    CIE 1976 L*a*b*.
    """
    if name in ("cividis", "viridis"):
        from matplotlib import colormaps

        colours = np.asarray(np.round(colormaps[name](np.arange(256))[:, :3] * 255.0), dtype=np.uint8)
    elif name == "grey":
        colours = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    elif name == "blue-orange":
        colours = _blue_orange()
    else:
        raise OurFaultError(f"colour table {name!r} is unknown; there are {', '.join(TABLES)}")
    colours.flags.writeable = False
    return colours


def _blue_orange() -> Table:
    """Two hues that part from a light middle: L* falls evenly on both sides, chroma rises evenly."""
    side = np.linspace(-1.0, 1.0, 256)
    hue = np.radians(np.where(side < 0.0, 265.0, 55.0))
    chroma = 42.0 * np.abs(side)
    lightness = 95.0 - 55.0 * np.abs(side)
    return _from_lab(np.stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1))


def _from_lab(lab: Float64) -> Table:
    """CIE 1976 L*a*b* (D65) to sRGB (IEC 61966-2-1) in 8 bits."""
    y = (lab[..., 0] + 16.0) / 116.0
    f = np.stack([y + lab[..., 1] / 500.0, y, y - lab[..., 2] / 200.0], axis=-1)
    xyz = _WHITE_D65 * np.where(f > 6.0 / 29.0, f**3, 3.0 * (6.0 / 29.0) ** 2 * (f - 4.0 / 29.0))
    linear = np.clip(xyz @ _XYZ_TO_RGB.T, 0.0, 1.0)
    srgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055)
    return np.asarray(np.round(srgb * 255.0), dtype=np.uint8)


def colour_range(values: Float32, *, signed: bool = False) -> tuple[float, float]:
    """Choose one scale for every picture of a stack, so that slices can be compared.

    Parameters
    ----------
    values : float32, any shape
        All values that will be drawn; NaN is left out.
    signed : bool
        True for values about zero: the range is the same on both sides.

    Returns
    -------
    (float, float)
        Low and high ends, low below high: the 2nd and 99.5th percentile, to two digits. Above a million
        values an even sample stands for all.
    """
    flat = values.reshape(-1)
    flat = flat[:: max(1, math.ceil(flat.size / _MOST_SAMPLES))] if flat.size else flat
    known = flat[np.isfinite(flat)]
    if not known.size:
        return (-1.0, 1.0) if signed else (0.0, 1.0)
    if signed:
        high = two_digits(float(np.percentile(np.abs(known), 99.5))) or 1.0
        return -high, high
    low, high = (two_digits(float(v)) for v in np.percentile(known, [2.0, 99.5]))
    if low >= high:
        return low, low + (abs(low) or 1.0)
    return low, high


def two_digits(value: float) -> float:
    """Round to two significant digits."""
    return float(f"{value:.1e}")


def to_index(values: Float32, colour_range: tuple[float, float]) -> NDArray[np.uint8]:
    """Scale values to the 256 steps of a table; below and above the range take the end colours.

    Parameters
    ----------
    values : float32, any shape
        NaN becomes 0; keep the blank cells apart by `isfinite`.
    colour_range : (float, float)
        Low and high ends.

    Returns
    -------
    uint8, same shape
        0 at or below low, 255 at or above high.
    """
    low, high = colour_range
    scaled = np.clip((values - np.float32(low)) * np.float32(255.0 / (high - low)), 0.0, 255.0)
    known = np.fmax(scaled + np.float32(0.5), np.float32(0.0))  # which passes no NaN on
    return np.asarray(known.astype(np.uint8))
