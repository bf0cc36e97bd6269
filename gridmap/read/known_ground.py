"""Read what a map tells and what is known of the ground, both from GeoPackages."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError

from gridmap.errors import ReadError
from gridmap.model import Float64
from gridmap.model.known import DeepArea, DeepLine, DeepPlan

_SAME_M = 0.005


def read_told(path: Path) -> tuple[DeepPlan, shapely.Geometry, str | None]:
    """Read what a map tells: layers `linear` and `outlines` of its features.gpkg, less what a person rejected.

    Parameters
    ----------
    path : Path
        features.gpkg.

    Returns
    -------
    told : DeepPlan
        In map metres.
    surveyed : shapely geometry
        Convex hull of the lines walked.
    crs_wkt : str or None
        CRS of the map; None for a local grid.

    Raises
    ------
    ReadError
        If the file cannot be read or lacks a layer.
    """
    linear, outlines, walked = (_layer(path, name) for name in ("linear", "outlines", "lines_walked"))
    for name, frame in (("linear", linear), ("outlines", outlines), ("lines_walked", walked)):
        if frame is None:
            raise ReadError(f"{path}: has no layer {name}. Name the folder of a finished map.")
    assert linear is not None
    assert outlines is not None
    assert walked is not None
    surveyed = shapely.convex_hull(shapely.union_all(shapely.force_2d(np.asarray(walked.geometry))))
    crs = None if _local(walked) else walked.crs.to_wkt()
    return _plan(_standing(linear), _standing(outlines)), surveyed, crs


def read_known(path: Path, crs_wkt: str | None) -> DeepPlan:
    """Read what is known: layers `linear` and `outlines`, at least one of them; both empty: empty ground.

    Parameters
    ----------
    path : Path
        A GeoPackage. Fields: `depth_top_m`, or `depth_start_m` and `depth_end_m` of a line, metres, and `id`; all
        may be missing, and then nothing is said of depths.
    crs_wkt : str or None
        CRS of the map; the layers are brought to it.

    Raises
    ------
    ReadError
        If the file cannot be read, has neither layer, or has no CRS while the map has one, or the other way about.
    """
    frames = [_layer(path, name) for name in ("linear", "outlines")]
    if all(frame is None for frame in frames):
        raise ReadError(f"{path}: has no layer linear and none outlines. Draw what is known into them.")
    there = [frame if frame is not None else gpd.GeoDataFrame({"id": []}, geometry=[]) for frame in frames]
    for name, frame in zip(("linear", "outlines"), there, strict=True):
        if len(frame) and _local(frame) != (crs_wkt is None):
            has, wants = (
                ("no CRS", "has one") if _local(frame) else (f"CRS {frame.crs.name}", "is in local metres")
            )
            raise ReadError(f"{path}, layer {name}: {has}, but the map {wants}. Give both the same.")
    return _plan(*(frame if crs_wkt is None or not len(frame) else frame.to_crs(crs_wkt) for frame in there))


def _layer(path: Path, name: str) -> gpd.GeoDataFrame | None:
    """Read a layer's rows that have a shape; None where there is no such layer."""
    try:
        if name not in [str(n) for n in pyogrio.list_layers(path)[:, 0]]:
            return None
        frame = pyogrio.read_dataframe(path, layer=name)
    except (DataSourceError, DataLayerError) as problem:
        raise ReadError(f"{path}: cannot be read as a GeoPackage ({problem}).") from problem
    return frame[~(frame.geometry.isna() | frame.geometry.is_empty)]


def _local(frame: gpd.GeoDataFrame) -> bool:
    return frame.crs is None or "undefined" in str(frame.crs.name).lower()


def _standing(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    return frame[frame["status"] != "rejected"] if "status" in frame.columns else frame


def _plan(linear: gpd.GeoDataFrame, outlines: gpd.GeoDataFrame) -> DeepPlan:
    lines, areas = [], []
    for number, (_, row) in enumerate(linear.iterrows(), 1):
        lines += [
            DeepLine(_name(row, number), shapely.force_2d(part), _depths(row, part))
            for part in shapely.get_parts(row.geometry)
            if part.geom_type == "LineString" and part.length > 0
        ]
    for number, (_, row) in enumerate(outlines.iterrows(), 1):
        areas += [
            DeepArea(
                _name(row, number), shapely.make_valid(shapely.force_2d(part)), _number(row, "depth_top_m")
            )
            for part in shapely.get_parts(row.geometry)
            if part.geom_type == "Polygon"
        ]
    return DeepPlan(tuple(lines), tuple(areas))


def _name(row: Any, number: int) -> str:
    said = row.get("id")
    return str(number) if said is None or said != said else str(said)


def _number(row: Any, field: str) -> float:
    value = row.get(field)
    return float(value) if isinstance(value, int | float | np.number) else math.nan


def _depths(row: Any, part: shapely.LineString) -> Float64:
    """Depth at each vertex: from Z where that is minus the depth, else from end to end, else the one depth."""
    xyz = shapely.get_coordinates(part, include_z=True)
    top = _number(row, "depth_top_m")
    if part.has_z and abs(float(np.median(xyz[:, 2])) + top) <= _SAME_M:
        return np.asarray(-xyz[:, 2], dtype=np.float64)
    along = np.concatenate([[0.0], np.hypot(*np.diff(xyz[:, :2], axis=0).T).cumsum()])
    start, end = _number(row, "depth_start_m"), _number(row, "depth_end_m")
    if math.isfinite(start) and math.isfinite(end):
        return np.asarray(np.interp(along / along[-1], [0.0, 1.0], [start, end]))
    return np.full(len(along), top)
