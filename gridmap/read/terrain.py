"""Read a raster of ground heights; rasterio is loaded only when one is read."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gridmap.errors import ReadError
from gridmap.model.track import HeightRaster

if TYPE_CHECKING:
    from affine import Affine
    from rasterio.windows import Window

MOST_CELLS = 50_000_000
"""Cells of the part that is read; above this the area is not that of a survey."""


def read_height_raster(
    path: Path | str, bounds_m: tuple[float, float, float, float] | None = None
) -> HeightRaster:
    """Read the first band of a raster, or the part of it around a survey.

    Parameters
    ----------
    path : Path
        A raster that rasterio opens, such as a GeoTIFF, with its co-ordinates.
    bounds_m : (west, south, east, north) or None
        The part wanted, in the raster's co-ordinates; two cells more are read on each side.

    Returns
    -------
    HeightRaster
        No-data cells are NaN; scale and offset of the band are applied.

    Raises
    ------
    ReadError
        If the file is no such raster, has no co-ordinates, does not reach the part wanted, or is too large.
    """
    path = Path(path)
    if not path.is_file():
        raise ReadError(
            f"{path.name}: no such file. Check the name in the site file and the folder {path.parent}."
        )
    import rasterio
    from rasterio.errors import RasterioError
    from rasterio.windows import Window

    try:
        with rasterio.open(path) as source:
            if source.transform.is_identity:
                raise ReadError(
                    f"{path.name}: holds no co-ordinates. Export the heights as a GeoTIFF with its CRS."
                )
            window = Window(0, 0, source.width, source.height)
            if bounds_m is not None:
                window = _part(source.transform, bounds_m, source.width, source.height)
                if window.width <= 0 or window.height <= 0:
                    raise ReadError(
                        f"{path.name}: does not reach the survey (raster {_words(source.bounds)}, survey"
                        f" {_words(bounds_m)}). Give the raster of this place, in the site's crs."
                    )
            if window.width * window.height > MOST_CELLS:
                raise ReadError(
                    f"{path.name}: {window.width:.0f} x {window.height:.0f} cells, and {MOST_CELLS} are the most."
                    " Cut out the area of the survey."
                )
            band = source.read(1, window=window, masked=True, out_dtype="float64")
            height = np.ma.filled(band * source.scales[0] + source.offsets[0], np.nan)
            affine = source.window_transform(window)
            crs = source.crs.to_wkt() if source.crs else None
    except RasterioError as problem:
        said = " ".join(str(problem).split())[:200]
        raise ReadError(
            f"{path.name}: is no raster of heights that can be read ({said}). Export a GeoTIFF."
        ) from None
    values = np.where(np.isfinite(height), height, np.nan).astype(np.float32)
    return HeightRaster(values, tuple(float(v) for v in affine[:6]), crs, path.name)  # type: ignore[arg-type]


def _part(transform: Affine, bounds_m: tuple[float, float, float, float], width: int, height: int) -> Window:
    """Return the cells that hold a rectangle, with two more on each side; no width or height where outside."""
    from rasterio.windows import Window

    west, south, east, north = bounds_m
    back = ~transform
    corners = [(x, y) for x in (west, east) for y in (south, north)]
    columns = [back.a * x + back.b * y + back.c for x, y in corners]
    rows = [back.d * x + back.e * y + back.f for x, y in corners]
    left, right = max(math.floor(min(columns)) - 2, 0), min(math.ceil(max(columns)) + 2, width)
    top, base = max(math.floor(min(rows)) - 2, 0), min(math.ceil(max(rows)) + 2, height)
    return Window(left, top, max(right - left, 0), max(base - top, 0))


def _words(bounds: tuple[float, float, float, float]) -> str:
    return " ".join(f"{value:.1f}" for value in bounds)
