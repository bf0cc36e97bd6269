"""Where a map stands in a picture: metres to pixels, and a raster drawn into its place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from gridmap.deliver.colours import Table, to_index
from gridmap.deliver.drawing import hatch
from gridmap.model import Float32, Float64, RasterGrid


@dataclass(frozen=True, slots=True)
class PlotArea:
    """A north-up map inside a picture.

    Attributes
    ----------
    left_px, top_px : int
        Upper left corner of the map in the picture.
    width_px, height_px : int
        Size of the map.
    px_per_m : float
        The scale, the same both ways.
    west_m, north_m : float
        Map co-ordinates of the upper left corner.
    """

    left_px: int
    top_px: int
    width_px: int
    height_px: int
    px_per_m: float
    west_m: float
    north_m: float

    def to_px(self, en_m: Float64) -> Float64:
        """Take (..., 2) easting, northing to (..., 2) x right, y down in the picture, pixels."""
        x = self.left_px + (en_m[..., 0] - self.west_m) * self.px_per_m
        y = self.top_px + (self.north_m - en_m[..., 1]) * self.px_per_m
        return np.stack([x, y], axis=-1)


def fit_area(raster: RasterGrid, box: tuple[int, int, int, int]) -> PlotArea:
    """Place a raster as large as a box allows, in the middle of it.

    Parameters
    ----------
    raster : RasterGrid
        What is drawn.
    box : (int, int, int, int)
        Left, top, right, bottom, pixels.

    Returns
    -------
    PlotArea
        The place and the scale.
    """
    left, top, right, bottom = box
    width_m, height_m = raster.columns * raster.cell_m, raster.rows * raster.cell_m
    scale = min((right - left) / width_m, (bottom - top) / height_m)
    width, height = max(1, round(width_m * scale)), max(1, round(height_m * scale))
    return PlotArea(
        left + (right - left - width) // 2,
        top + (bottom - top - height) // 2,
        width,
        height,
        scale,
        raster.west_m,
        raster.north_m,
    )


def coarser(values: Float32, factor: int) -> Float32:
    """Join blocks of cells: the value farthest from zero stays, so that nothing that stands out is lost.

    Parameters
    ----------
    values : (row, column) float32
        NaN where blank; a block is blank only where every cell of it is.
    factor : int
        Cells along each side of a block.

    Returns
    -------
    (row, column) float32
        Rounded up in size.
    """
    if factor <= 1:
        return values
    rows, columns = (-(-n // factor) for n in values.shape)
    padded = np.full((rows * factor, columns * factor), np.nan, np.float32)
    padded[: values.shape[0], : values.shape[1]] = values
    high = low = padded[::factor, ::factor]
    for k in range(1, factor * factor):
        part = padded[k // factor :: factor, k % factor :: factor]
        high, low = np.fmax(high, part), np.fmin(low, part)
    return np.asarray(np.where(np.abs(low) > np.abs(high), low, high), dtype=np.float32)


def raster_image(
    values: Float32, cell_m: float, area: PlotArea, colours: Table, colour_range: tuple[float, float]
) -> Image.Image:
    """Colour a raster at the size of its place in the picture; blank cells are hatched.

    Parameters
    ----------
    values : (row, column) float32
        North-up; NaN where blank.
    cell_m : float
        Side of a cell, metres.
    area : PlotArea
        Its place.
    colours : (256, 3) uint8
        The table.
    colour_range : (float, float)
        Values of its ends.

    Returns
    -------
    Image
        RGB. Each pixel shows the cell under its centre. Cells smaller than a pixel are first joined by `coarser`.
    """
    factor = max(1, math.ceil(1.0 / (cell_m * area.px_per_m) - 0.01))
    values = coarser(values, factor)
    cell_px = cell_m * factor * area.px_per_m
    row = np.minimum(((np.arange(area.height_px) + 0.5) / cell_px).astype(int), values.shape[0] - 1)
    column = np.minimum(((np.arange(area.width_px) + 0.5) / cell_px).astype(int), values.shape[1] - 1)
    words = np.take(colour_words(values, colours, colour_range), row, axis=0)
    return words_image(np.take(words, column, axis=1))


def colour_words(values: Float32, colours: Table, colour_range: tuple[float, float]) -> NDArray[np.uint32]:
    """Colour an array, four bytes a cell (red, green, blue, 1), 0 where blank: quick to copy about."""
    bytes_ = np.ones((256, 4), np.uint8)
    bytes_[:, :3] = colours
    words = np.take(bytes_.view(np.uint32)[:, 0], to_index(values, colour_range))
    words[np.isnan(values)] = 0
    return words


def words_image(words: NDArray[np.uint32]) -> Image.Image:
    """Make the RGB image of `colour_words`, with the hatch of "no data" where they are 0."""
    blank = words == 0
    if blank.any():
        words = np.where(blank, _hatch_words(*blank.shape), words)
    size = (words.shape[1], words.shape[0])
    return Image.frombytes("RGB", size, np.ascontiguousarray(words).data.cast("B"), "raw", "RGBX", 0, 1)


@lru_cache(maxsize=4)
def _hatch_words(rows: int, columns: int) -> NDArray[np.uint32]:
    """Return the hatch of "no data" as four bytes a pixel."""
    tile = np.ones((rows, columns, 4), np.uint8)
    tile[..., :3] = hatch(rows, columns)
    return np.ascontiguousarray(tile.view(np.uint32)[..., 0])
