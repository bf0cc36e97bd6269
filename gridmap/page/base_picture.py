"""A site plan or an orthophoto, brought to the map's CRS to lie under the slices."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyogrio
import rasterio
from PIL import Image
from rasterio.enums import Resampling
from rasterio.errors import RasterioError
from rasterio.vrt import WarpedVRT
from rasterio.windows import from_bounds

from gridmap.errors import InputError

MOST_PIXELS = 2400
"""Along the longer side."""
_AROUND = 0.25


@dataclass(frozen=True, slots=True)
class BasePicture:
    """A picture as PNG and what it covers: west, south, east, north, map metres."""

    png: bytes
    bounds: tuple[float, float, float, float]


def read_base(path: Path, features: Path, blocks: Mapping[str, str]) -> BasePicture:
    """Read the part of a GeoTIFF that lies at the map, a quarter of its size around it.

    Parameters
    ----------
    path : Path
        Raster of one band (grey), three or four (red, green, blue, opacity).
    features : Path
        features.gpkg, whose CRS is the map's.
    blocks : mapping
        Of the page: its bounds.

    Returns
    -------
    BasePicture
        North up.

    Raises
    ------
    InputError
        If the file is no raster with a place, or lies elsewhere.
    """
    west, south, east, north = json.loads(blocks["data"])["raster"]["bounds"]
    wide, high = _AROUND * (east - west), _AROUND * (north - south)
    crs = pyogrio.read_info(features, layer="lines_walked")["crs"]
    if crs is None or "undefined" in str(crs).lower():
        raise InputError(f"{path}: the map has no CRS, so no picture can be laid under it.")
    try:
        with rasterio.open(path) as raw:
            if raw.crs is None:
                raise InputError(f"{path}: has no CRS. Export it as a GeoTIFF with its place.")
            with WarpedVRT(
                raw, crs=crs, resampling=Resampling.bilinear, add_alpha=raw.count in (1, 3)
            ) as data:
                box = (
                    max(west - wide, data.bounds.left), max(south - high, data.bounds.bottom),
                    min(east + wide, data.bounds.right), min(north + high, data.bounds.top),
                )  # fmt: skip
                if box[0] >= box[2] or box[1] >= box[3]:
                    raise InputError(f"{path}: lies elsewhere than the map.")
                window = from_bounds(*box, transform=data.transform)
                scale = min(1.0, MOST_PIXELS / max(window.width, window.height))
                shape = (data.count, math.ceil(scale * window.height), math.ceil(scale * window.width))
                values = data.read(window=window, out_shape=shape, resampling=Resampling.average)
    except (RasterioError, OSError) as problem:
        raise InputError(f"{path}: cannot be read as a GeoTIFF ({problem}).") from problem
    return BasePicture(_png(values, path), box)


def _png(values: np.ndarray, path: Path) -> bytes:
    if values.dtype != np.uint8:
        known = values[:3].astype(np.float64)
        low, high = np.nanpercentile(known, [1.0, 99.0])
        colour = np.clip(255.0 * (known - low) / max(high - low, 1e-30), 0, 255).astype(np.uint8)
        alpha = np.where(values[-1] > 0, 255, 0).astype(np.uint8)
        values = np.concatenate([colour[: len(values) - 1], alpha[None]])
    if len(values) == 2:
        values = values[[0, 0, 0, 1]]
    if len(values) != 4:
        raise InputError(f"{path}: has {len(values)} bands; a picture has one, three or four.")
    held = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(np.moveaxis(values, 0, 2)), "RGBA").save(held, "PNG")
    return held.getvalue()
