"""Read a grid of ground heights in plain text: header words with numbers, then heights from north to south."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64
from gridmap.read.whole import decode_plain, read_whole

_HEADER = re.compile(
    r"\s*(ncols|nrows|xllcorner|xllcenter|yllcorner|yllcenter|cellsize|nodata_value)\s+(\S+)", re.I
)


def looks_like_ascii_grid(head: bytes) -> bool:
    """Say whether the first bytes of a file are those of such a grid."""
    return re.match(rb"(?:\xef\xbb\xbf)?\s*(ncols|nrows)\s", head, re.I) is not None


def read_ascii_grid(path: Path) -> tuple[Float64, tuple[float, float, float, float, float, float]]:
    """Read the heights and where they lie.

    Parameters
    ----------
    path : Path
        Rows `ncols`, `nrows`, `xllcorner` (or `xllcenter`), `yllcorner` (or `yllcenter`), `cellsize` and, where there
        is such, `nodata_value`, in any order; then the heights.

    Returns
    -------
    (row, column) float64
        From north to south, west to east; NaN where there is no data.
    affine : six floats
        As in `gridmap.model.HeightRaster`.

    Raises
    ------
    ReadError
        If a header row is missing or odd, or the count of heights is not that of the header.

    Notes
    -----
    The layout is in wide use and has no standard; this reader holds no more memory than some times the file.
    """
    text, _ = decode_plain(read_whole(path), path.name)
    header: dict[str, float] = {}
    at = 0
    while match := _HEADER.match(text, at):
        try:
            header[match.group(1).lower()] = float(match.group(2))
        except ValueError:
            header[match.group(1).lower()] = math.nan
        at = match.end()
    columns, rows, cell = (header.get(key, math.nan) for key in ("ncols", "nrows", "cellsize"))
    west, south = (
        header.get(f"{key}corner", header.get(f"{key}center", math.nan) - 0.5 * cell)
        for key in ("xll", "yll")
    )
    right = all(map(math.isfinite, (west, south, columns, rows, cell))) and cell > 0
    if not right or min(columns, rows) < 1 or columns % 1 or rows % 1:
        raise ReadError(
            f"{path.name}: its header does not say ncols, nrows, xllcorner, yllcorner and cellsize in numbers. Export"
            " the heights again, or as a GeoTIFF."
        )
    words = text[at:].split()
    if len(words) != int(columns) * int(rows):
        raise ReadError(
            f"{path.name}: {len(words)} heights, and its header says {columns:.0f} x {rows:.0f}. Copy it again."
        )
    try:
        height = np.array(words, dtype=np.float64).reshape(int(rows), int(columns))
    except ValueError as problem:
        raise ReadError(
            f"{path.name}: holds what is no number ({str(problem)[-60:]}). Export it again."
        ) from None
    none = header.get("nodata_value", math.nan)
    height[(height == none) | ~np.isfinite(height)] = np.nan
    return height, (cell, 0.0, west, 0.0, -cell, south + rows * cell)
