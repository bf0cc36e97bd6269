"""Read a raster of ground heights; rasterio is loaded only when one is read."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64
from gridmap.model.track import HeightRaster
from gridmap.read.ascii_grid import looks_like_ascii_grid, read_ascii_grid
from gridmap.read.opening import open_file

if TYPE_CHECKING:
    from rasterio import DatasetReader

MOST_CELLS = 50_000_000
"""Cells of the part that is read; above this the area is not that of a survey."""

CELLS_A_BYTE = 1000
"""Cells that a byte of a file may stand for, as in well packed even ground; more is a damaged or hostile header."""

MOST_BANDS = 16
LOWEST_M, HIGHEST_M = -1000.0, 10_000.0
"""Ground on Earth; a height beyond is a no-data value that the file does not state."""

TIFF_MARKS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
"""First bytes of TIFF and BigTIFF. No other format is opened as a raster: some can name files elsewhere, or on the
network."""

Bounds = tuple[float, float, float, float]
SixNumbers = tuple[float, float, float, float, float, float]

_HEAD_BYTES = 200
_LEAST_CELL_M2 = 1e-18
_FARTHEST_M = 1e9


def read_height_raster(path: Path | str, bounds_m: Bounds | None = None) -> HeightRaster:
    """Read the first band of a raster, or the part of it around a survey.

    Parameters
    ----------
    path : Path
        A GeoTIFF, or an ASCII grid, with its co-ordinates.
    bounds_m : (west, south, east, north) or None
        The part wanted, in the raster's co-ordinates; two cells more are read on each side.

    Returns
    -------
    HeightRaster
        No-data cells are NaN; scale and offset of the band are applied.

    Raises
    ------
    ReadError
        If the file is no such raster, has no co-ordinates, does not reach the part wanted, is too large, promises
        far more cells than its bytes can hold, or holds heights that are not of this Earth.
    """
    path = Path(path)
    if not path.is_file():
        raise ReadError(
            f"{path.name}: no such file. Check the name in the site file and the folder {path.parent}."
        )
    with open_file(path) as stream:
        head = stream.read(_HEAD_BYTES)
    if looks_like_ascii_grid(head):
        height, affine = read_ascii_grid(path)
        left, top, width, rows = _part(path, affine, bounds_m, height.shape[1], height.shape[0])
        height, crs = height[top : top + rows, left : left + width], None
    elif head.startswith(TIFF_MARKS):
        height, affine, crs, (left, top) = _read_tiff(path, bounds_m)
    else:
        raise ReadError(
            f"{path.name}: is no raster of heights that can be read (neither TIFF nor an ASCII grid). Export a GeoTIFF."
        )
    wild = np.flatnonzero((height < LOWEST_M) | (height > HIGHEST_M))
    if wild.size:
        raise ReadError(
            f"{path.name}: {wild.size} cells hold heights that are not of this Earth, such as"
            f" {height.flat[wild[0]]:g} m. State the no-data value in the file, or export metres."
        )
    a, b, c, d, e, f = affine
    corner = (a, b, a * left + b * top + c, d, e, d * left + e * top + f)
    return HeightRaster(np.asarray(height, np.float32), corner, crs, path.name)


def _read_tiff(
    path: Path, bounds_m: Bounds | None
) -> tuple[Float64, SixNumbers, str | None, tuple[int, int]]:
    """Read heights (no-data as NaN), affine of the whole raster, CRS, and first column and row of what was read."""
    import rasterio
    from rasterio.errors import RasterioError
    from rasterio.windows import Window

    try:
        with rasterio.open(path, driver="GTiff") as source:
            a, b, c, d, e, f = (float(v) for v in source.transform[:6])
            if source.transform.is_identity:
                raise ReadError(
                    f"{path.name}: holds no co-ordinates. Export the heights as a GeoTIFF with its CRS."
                )
            _refuse_swollen(path, source)
            left, top, width, height = _part(path, (a, b, c, d, e, f), bounds_m, source.width, source.height)
            band = source.read(1, window=Window(left, top, width, height), masked=True, out_dtype="float64")
            values = np.ma.filled(band * source.scales[0] + source.offsets[0], np.nan)
            crs = source.crs.to_wkt() if source.crs else None
    except RasterioError as problem:
        said = " ".join(str(problem).split())[:200]
        raise ReadError(
            f"{path.name}: is no raster of heights that can be read ({said}). Export a GeoTIFF."
        ) from None
    return np.where(np.isfinite(values), values, np.nan), (a, b, c, d, e, f), crs, (left, top)


def _refuse_swollen(path: Path, source: DatasetReader) -> None:
    """Refuse what would take far more memory than the file has bytes, before a sample is read."""
    cells, size = source.width * source.height, path.stat().st_size
    rows, columns = source.block_shapes[0]
    if source.count > MOST_BANDS:
        raise ReadError(f"{path.name}: {source.count} bands, and heights have one. Export the heights alone.")
    if max(cells, rows * columns * source.count) > CELLS_A_BYTE * size:
        raise ReadError(
            f"{path.name}: its header promises {source.width} x {source.height} cells, and it has {size} bytes. Copy it"
            " again, or export it without holes."
        )


def _part(
    path: Path, affine: SixNumbers, bounds_m: Bounds | None, width: int, height: int
) -> tuple[int, int, int, int]:
    """Return first column, first row and counts of both that hold a rectangle, with two cells more on each side."""
    a, b, c, d, e, f = affine
    det = a * e - b * d
    if not (abs(det) > _LEAST_CELL_M2 and all(abs(number) < _FARTHEST_M for number in affine)):
        raise ReadError(
            f"{path.name}: its cells have no area or no place. Export the heights again, with a CRS."
        )
    left, top, right, base = 0, 0, width, height
    if bounds_m is not None:
        west, south, east, north = bounds_m
        corners = [(x - c, y - f) for x in (west, east) for y in (south, north)]
        columns = [(e * x - b * y) / det for x, y in corners]
        rows = [(a * y - d * x) / det for x, y in corners]
        left, right = max(math.floor(min(columns)) - 2, 0), min(math.ceil(max(columns)) + 2, width)
        top, base = max(math.floor(min(rows)) - 2, 0), min(math.ceil(max(rows)) + 2, height)
    if right <= left or base <= top:
        ends = (c, a * width + b * height + c, f, d * width + e * height + f)
        reach = (min(ends[:2]), min(ends[2:]), max(ends[:2]), max(ends[2:]))
        raise ReadError(
            f"{path.name}: does not reach the survey (raster {_words(reach)}, survey"
            f" {_words(bounds_m or reach)}). Give the raster of this place, in the site's crs."
        )
    if (right - left) * (base - top) > MOST_CELLS:
        raise ReadError(
            f"{path.name}: {right - left} x {base - top} cells, and {MOST_CELLS} are the most. Cut out the area of the"
            " survey."
        )
    return left, top, right - left, base - top


def _words(bounds: Bounds) -> str:
    return " ".join(f"{value:.1f}" for value in bounds)
