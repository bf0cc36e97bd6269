"""Read a finished output folder back: its record, its layers, its slices and what a check said."""

from __future__ import annotations

import json
import math
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import rasterio
from pyogrio.errors import DataLayerError, DataSourceError
from rasterio.errors import NotGeoreferencedWarning, RasterioError

from gridmap.errors import ReadError
from gridmap.model import Float32, RasterGrid, SliceStack, VelocityModel, Window

_REMAKE = "Make the map again with gridmap map."
_NO_LAYERS: tuple[str, ...] = ("layer_styles",)


@dataclass(frozen=True, slots=True)
class MadeMap:
    """What a finished output folder holds.

    Attributes
    ----------
    folder : Path
        The output folder.
    record : mapping
        run.json.
    layers : dict of str to GeoDataFrame
        Layers of features.gpkg with a geometry, in the file's order; what a person wrote in them is there.
    descriptions : dict of str to str
        What the file says of each layer.
    raster : RasterGrid
        Cells of the rasters; its CRS is None where the map is in local grid metres.
    slices : SliceStack
        Depth slices or level slices, from the top down, (slice, row, column).
    coverage_m, reach_m : (row, column) float32
        Metres to the nearest trace; depth to which a stated echo would stand above the noise, metres. NaN: blank.
    profiles : mapping
        profiles/profiles.json; empty where the folder has none.
    checks : mapping
        check.json; empty where no check was made.
    """

    folder: Path
    record: Mapping[str, Any]
    layers: Mapping[str, gpd.GeoDataFrame]
    descriptions: Mapping[str, str]
    raster: RasterGrid
    slices: SliceStack
    coverage_m: Float32
    reach_m: Float32
    profiles: Mapping[str, Any]
    checks: Mapping[str, Any]

    def layer(self, name: str) -> gpd.GeoDataFrame:
        """Return a layer; an empty table where the folder has none of that name."""
        return self.layers.get(name, gpd.GeoDataFrame({"id": []}, geometry=[]))

    def velocity(self) -> VelocityModel:
        """Return the velocity behind every depth, as run.json has it."""
        told = self.record["velocity_layers"]
        depth_sd = self.record.get("velocity_evidence", {}).get("depth_sd") or []
        return VelocityModel(
            np.array([row["top_m"] for row in told], dtype=float),
            np.array([row["velocity_m_per_ns"] for row in told], dtype=float),
            float(self.record["velocity_sd_m_per_ns"]),
            str(self.record["velocity_source"]),
            np.array([row["depth_m"] for row in depth_sd], dtype=float) if depth_sd else None,
            np.array([row["sd_m"] for row in depth_sd], dtype=float) if depth_sd else None,
        )


def read_made_map(folder: Path) -> MadeMap:
    """Read a finished output folder.

    Parameters
    ----------
    folder : Path
        As `gridmap map` wrote it; features.gpkg may have been edited since.

    Returns
    -------
    MadeMap
        Everything that a report or a hand-over is made from.

    Raises
    ------
    ReadError
        If it is no such folder, or a file in it is missing or damaged.
    """
    record = _json(
        folder / "run.json", f"{folder}: is no finished map (no run.json of gridmap's in it). {_REMAKE}"
    )
    if record.get("program") != "gridmap":
        raise ReadError(f"{folder}: its run.json is not gridmap's. {_REMAKE}")
    for key in ("velocity_layers", "velocity_sd_m_per_ns", "velocity_source", "parameters", "inputs"):
        if key not in record:
            raise ReadError(f"{folder / 'run.json'}: has no {key}. {_REMAKE}")
    layers, descriptions = _layers(folder / "features.gpkg")
    stack, raster = _slices(folder / "slices.tif")
    return MadeMap(
        folder,
        record,
        layers,
        descriptions,
        raster,
        stack,
        _one_band(folder / "coverage.tif", raster),
        _one_band(folder / "reach.tif", raster),
        _optional(folder / "profiles" / "profiles.json"),
        _optional(folder / "check.json"),
    )


def _json(path: Path, missing: str) -> dict[str, Any]:
    try:
        value = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise ReadError(missing) from None
    except (OSError, ValueError) as problem:
        raise ReadError(f"{path}: cannot be read as JSON ({problem}). {_REMAKE}") from problem
    if not isinstance(value, dict):
        raise ReadError(f"{path}: holds no record. {_REMAKE}")
    return value


def _optional(path: Path) -> dict[str, Any]:
    return _json(path, "") if path.is_file() else {}


def _layers(path: Path) -> tuple[dict[str, gpd.GeoDataFrame], dict[str, str]]:
    if not path.is_file():
        raise ReadError(f"{path}: is missing. {_REMAKE}")
    found: dict[str, gpd.GeoDataFrame] = {}
    words: dict[str, str] = {}
    try:
        for name, kind in pyogrio.list_layers(path):
            if kind is not None and str(name) not in _NO_LAYERS:
                found[str(name)] = pyogrio.read_dataframe(path, layer=str(name))
                about = pyogrio.read_info(path, layer=str(name)).get("layer_metadata") or {}
                words[str(name)] = str(about.get("DESCRIPTION", ""))
    except (DataSourceError, DataLayerError) as problem:
        raise ReadError(f"{path}: cannot be read as a GeoPackage ({problem}). {_REMAKE}") from problem
    for name in ("linear", "outlines", "lines_walked"):
        if name not in found:
            raise ReadError(f"{path}: has no layer {name}. {_REMAKE}")
    return found, words


def _slices(path: Path) -> tuple[SliceStack, RasterGrid]:
    with _opened(path) as file:
        windows = tuple(_window(path, file.tags(band)) for band in file.indexes)
        values = file.read().astype(np.float32)
        raster = RasterGrid(
            float(file.transform.c), float(file.transform.f), float(file.transform.a), file.height, file.width,
            None if file.crs is None else file.crs.to_wkt(),
        )  # fmt: skip
        return SliceStack(values, windows, file.tags().get("QUANTITY", "")), raster


def _window(path: Path, tags: Mapping[str, str]) -> Window:
    try:
        if "ELEVATION_TOP_M" in tags:
            upper, lower = float(tags["ELEVATION_TOP_M"]), float(tags["ELEVATION_BASE_M"])
            return Window("elevation", 0.0, upper - lower, math.nan, math.nan, upper)
        names = ("WINDOW_TOP_M", "WINDOW_BASE_M", "WINDOW_TOP_NS", "WINDOW_BASE_NS")
        return Window("depth", *(float(tags[name]) for name in names))
    except (KeyError, ValueError) as problem:
        raise ReadError(f"{path}: a slice does not say its window ({problem}). {_REMAKE}") from problem


def _one_band(path: Path, raster: RasterGrid) -> Float32:
    with _opened(path) as file:
        if (file.height, file.width) != raster.shape:
            raise ReadError(
                f"{path}: {file.height} by {file.width} cells, slices.tif has {raster.shape}. {_REMAKE}"
            )
        return np.asarray(file.read(1), dtype=np.float32)


def _opened(path: Path) -> Any:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # a local grid may start at 0, 0
            return rasterio.open(path)
    except RasterioError as problem:
        raise ReadError(f"{path}: cannot be read ({' '.join(str(problem).split())}). {_REMAKE}") from problem
