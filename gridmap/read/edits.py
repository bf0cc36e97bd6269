"""Read what a person did to features.gpkg in a GIS: said, moved, drew."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError

from gridmap.errors import ReadError
from gridmap.model import OldRow, Said, Similarity
from gridmap.model.feature_columns import AS_FOUND, columns_of
from gridmap.model.interpretation import STATUSES, UNKNOWN, Kind, Status

KINDS: dict[str, Kind] = {"linear": "linear", "outlines": "outline", "points": "point"}
_OF_TYPE: dict[str, Kind] = {"LineString": "linear", "Polygon": "outline", "Point": "point"}
_NOT_TOLD = ("fid", "ogc_fid", "layer", "path")
"""Columns that programs add by themselves."""
SAME_M = 0.002
"""A shape nearer than this to the one found, metres, was not moved."""


@dataclass(frozen=True, slots=True)
class Edits:
    """Rows of one or more files, and what a person should know of the reading.

    Attributes
    ----------
    rows : tuple of OldRow
        Every row of every layer of features, touched or not; shapes in plan, in the CRS asked for.
    warnings : tuple of str
        What could not be understood as written.
    """

    rows: tuple[OldRow, ...] = ()
    warnings: tuple[str, ...] = ()

    def over(self, older: Edits) -> Edits:
        """Join with an older file's rows; where both have an identity, these hold."""
        have = {(row.kind, row.candidate, row.id) for row in self.rows if row.id}
        more = tuple(row for row in older.rows if (row.kind, row.candidate, row.id) not in have)
        return Edits((*self.rows, *more), (*self.warnings, *older.warnings))


def read_edits(path: Path, crs_wkt: str | None, transform: Similarity) -> Edits:
    """Read the layers of features of a GeoPackage.

    Parameters
    ----------
    path : Path
        features.gpkg of an earlier run, or a file with layers of the same names. A file that has none of them gives
        every line, area and point in it as drawn.
    crs_wkt : str or None
        CRS of the map to be made; None: local grid.
    transform : Similarity
        Takes local x, y to that map: a file without a CRS lies in the local grid.

    Returns
    -------
    Edits
        Shapes in map metres. A shape counts as a person's where the row has no identity, where it was moved, or
        where a person said something of it and the file does not tell how the machine found it.

    Raises
    ------
    ReadError
        If the file cannot be read, or lies in a CRS while the map does not.
    """
    try:
        names = [str(name) for name, kind in pyogrio.list_layers(path) if kind is not None]
        ours = [n for n in (*KINDS, "rejected") if n in names]
        found = _as_found(path, crs_wkt, transform) if AS_FOUND in names else None
        rows: list[OldRow] = []
        warnings: list[str] = []
        for name in ours or names:
            frame = pyogrio.read_dataframe(path, layer=name)
            rows += _rows(path, name, frame, crs_wkt, transform, found, warnings)
    except (DataSourceError, DataLayerError) as problem:
        raise ReadError(f"{path}: cannot be read as a GeoPackage ({problem}).") from problem
    return Edits(tuple(rows), tuple(warnings))


def on_map(
    path: Path, name: str, frame: gpd.GeoDataFrame, crs_wkt: str | None, transform: Similarity
) -> gpd.GeoDataFrame:
    """Bring a layer to the map's CRS; a layer without one lies in the local grid.

    Raises
    ------
    ReadError
        If the layer has a CRS and the map has none.
    """
    if frame.crs is None or _undefined(frame.crs):
        local = frame.set_crs(None, allow_override=True)
        if crs_wkt is None:  # a map without a CRS, in its own metres
            return local
        return local.set_geometry(shapely.transform(np.asarray(local.geometry), transform.to_map))
    if crs_wkt is None:
        raise ReadError(
            f"{path}, layer {name}: lies in {frame.crs.name}, but the map is in local grid metres. Give the site file"
            " control points and crs, or take the file away."
        )
    return frame.to_crs(crs_wkt)


def _undefined(crs: Any) -> bool:
    return "undefined" in str(crs.name).lower()


def _as_found(
    path: Path, crs_wkt: str | None, transform: Similarity
) -> dict[tuple[str, str], tuple[shapely.Geometry, float]]:
    frame = on_map(path, AS_FOUND, pyogrio.read_dataframe(path, layer=AS_FOUND), crs_wkt, transform)
    shapes = shapely.force_2d(np.asarray(frame.geometry))
    return {
        (str(kind), str(key)): (_of_kind(str(kind), shape), _number(depth))
        for kind, key, depth, shape in zip(
            frame["kind"], frame["id"], frame["depth_top_m"], shapes, strict=True
        )
        if shape is not None and not shape.is_empty
    }


def _of_kind(kind: str, path: shapely.Geometry) -> shapely.Geometry:
    """Turn a path of the layer of found shapes, or of the candidates, into a line, an area or a point."""
    if path.geom_type != "LineString":
        return path
    if kind == "outline" and len(path.coords) >= 4:
        return shapely.Polygon(path.coords)
    return shapely.Point(path.coords[0]) if kind == "point" else path


def _rows(
    path: Path,
    name: str,
    frame: gpd.GeoDataFrame,
    crs_wkt: str | None,
    transform: Similarity,
    found: dict[tuple[str, str], tuple[shapely.Geometry, float]] | None,
    warnings: list[str],
) -> Iterator[OldRow]:
    candidate = name == "rejected"
    ours = columns_of(name) if name in (*KINDS, "rejected") else ()
    extra = [c for c in frame.columns if c not in (*ours, *_NOT_TOLD) and c != frame.geometry.name]
    frame = on_map(path, name, frame, crs_wkt, transform)
    for number, (_, row) in enumerate(frame.iterrows(), 1):
        where = f"{path.name}, layer {name}, row {number}"
        said = _said(row, extra, candidate, where, warnings)
        shape = row[frame.geometry.name]
        if shape is None or shape.is_empty:
            if said != (Said("rejected") if candidate else Said()):
                warnings.append(
                    f"{where}: has words but no shape, so it cannot be placed: {_all_words(said)}."
                )
            continue
        for k, part in enumerate(shapely.get_parts(shapely.force_2d(shape))):
            kind = KINDS.get(name) or (
                str(row.get("kind", "linear")) if candidate else _OF_TYPE.get(part.geom_type, "linear")
            )
            yield _one(kind, part, _text(row.get("id")) if k == 0 else "", row, said, candidate, found)


def _one(  # type: ignore[no-untyped-def]
    kind, shape: shapely.Geometry, key: str, row, said: Said, candidate: bool, found
) -> OldRow:
    if candidate:
        shape = _of_kind(kind, shape)
    before, before_m = (found or {}).get((kind, key), (None, math.nan))
    if candidate:
        own = not key
    elif before is not None:
        own = bool(shapely.hausdorff_distance(_edge(shape), _edge(before)) > SAME_M)
    else:
        own = not key or found is not None or said != Said()
    if own and said.status == "found":
        said = replace(said, status="drawn")
    depth = _number(row.get("depth_top_m"))
    return OldRow(kind, key, shape, depth, said, own, candidate, before, before_m)


def _edge(shape: shapely.Geometry) -> shapely.Geometry:
    return shape.exterior if shape.geom_type == "Polygon" else shape


def _said(row: Any, extra: list[str], candidate: bool, where: str, warnings: list[str]) -> Said:
    written = _text(row.get("status"))
    note = _text(row.get("note"))
    status: Status = "rejected" if candidate else "found"
    if written.lower() in STATUSES:
        status = STATUSES[STATUSES.index(written.lower())]
    elif written:
        warnings.append(f"{where}: status {written!r} is none of {', '.join(STATUSES)}; kept in the note.")
        note = "; ".join(part for part in (note, f"status: {written}") if part)
    return Said(
        status,
        note,
        _text(row.get("by")),
        _text(row.get("when")),
        _text(row.get("class")) or UNKNOWN,
        _text(row.get("quality_level")),
        None if math.isnan(depth := _number(row.get("depth_said_m"))) else depth,
        tuple((name, _plain(row[name])) for name in extra if not _empty(row[name])),
    )


def _all_words(said: Said) -> str:
    words = (said.status, said.note, said.by, said.when, said.class_name, said.quality_level)
    return "; ".join(w for w in (*words, *(f"{k}: {v}" for k, v in said.extra)) if w)


def _empty(value: object) -> bool:
    return value is None or value != value or str(value) in ("NaT", "<NA>")


def _text(value: object) -> str:
    return "" if _empty(value) else str(value).strip()


def _number(value: object) -> float:
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return math.nan
    return number if math.isfinite(number) else math.nan


def _plain(value: Any) -> object:
    """Value of a person's own column as a plain number, truth value or text."""
    value = value.item() if isinstance(value, np.generic) else value
    return value if isinstance(value, bool | int | float) else str(value)
