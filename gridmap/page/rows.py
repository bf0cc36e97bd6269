"""Rows of features.gpkg as the page reads them."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import shapely

from gridmap.deliver.page_features import SHOWN, PageFeature, feature_json, plain_value
from gridmap.page.blob import shape_of
from gridmap.page.database import columns_in, opened, quoted


def stamp_of(path: Path) -> str:
    """Name the state of the file: it differs after every change, whoever made it."""
    try:
        known = path.stat()
    except OSError:
        return "gone"
    return f"{known.st_mtime_ns}-{known.st_size}-{known.st_ino}"


def all_rows(path: Path) -> list[dict[str, Any]]:
    """Read every row of the layers that the page shows, in the order of the file.

    Returns
    -------
    list of dict
        As `feature_json`, and `fid`, the row's key in its layer.

    Raises
    ------
    ReadError
        If the file cannot be read.
    """
    with opened(path, write=False) as base:
        return [
            row_json(layer, row)
            for layer in SHOWN
            if columns_in(base, layer)
            for row in base.execute(f"SELECT * FROM {quoted(layer)} ORDER BY fid")
            if row["geom"] is not None and not shape_of(row["geom"]).is_empty
        ]


def one_row(base: sqlite3.Connection, layer: str, fid: int) -> sqlite3.Row | None:
    """Read one row; None where it is gone."""
    found: sqlite3.Row | None = base.execute(
        f"SELECT * FROM {quoted(layer)} WHERE fid = ?", (fid,)
    ).fetchone()
    return found


def row_json(layer: str, row: sqlite3.Row) -> dict[str, Any]:
    """Turn a row into what the page reads."""
    columns = {
        name: plain_value(row[name])
        for name in row.keys()  # noqa: SIM118 (a Row iterates over values)
        if name not in ("fid", "geom") and not isinstance(row[name], bytes)
    }
    shape = shapely.force_2d(shape_of(row["geom"]))
    shape = shapely.get_parts(shape)[0] if shape.geom_type.startswith("Multi") else shape
    return {**feature_json(PageFeature(layer, shape, columns)), "fid": row["fid"]}
