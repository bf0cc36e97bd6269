"""Save a change into features.gpkg: whole, at once, and only where nobody else changed the same since."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import shapely

from gridmap.deliver.page_features import plain_value
from gridmap.features.stakes import share_along
from gridmap.page.blob import blob_of, shape_of
from gridmap.page.change import LAYERS, Change, ChangeError, Path
from gridmap.page.database import columns_in, opened, quoted
from gridmap.page.rows import one_row, row_json

_SIGNED = ("by", "when")
"""Go with every change, so they are never what two people disagree over."""


@dataclass(frozen=True, slots=True)
class Saved:
    """The row as it stands now; None where it is gone. `refused`: another had changed it, and nothing was written."""

    row: dict[str, Any] | None
    refused: bool = False


def save_change(path: FilePath, change: Change) -> Saved:
    """Write one change in one transaction.

    Parameters
    ----------
    path : Path
        features.gpkg.
    change : Change
        From `read_change`.

    Returns
    -------
    Saved
        A change that stands already (sent again after an answer that never came) counts as saved.

    Raises
    ------
    ChangeError
        If the row may not be changed so.
    ReadError, sqlite3.OperationalError
        If the file is gone, damaged or held by another program.
    """
    with opened(path, write=True) as base:
        if change.layer not in _layers(base):
            raise ChangeError(f"features.gpkg has no layer {change.layer}")
        if change.new is not None:
            fid = _add(base, change.layer, *change.new)
        else:
            assert change.fid is not None
            row = one_row(base, change.layer, change.fid)
            if row is None:
                return Saved(None, refused=not change.remove)
            if change.remove:
                return _remove(base, change.layer, row)
            if not _stands(row, change):
                if _moved_on(row, change):
                    return Saved(row_json(change.layer, row), refused=True)
                _update(base, change, row)
            fid = change.fid
        _tell_contents(base, change.layer)
        changed = one_row(base, change.layer, fid)
        assert changed is not None
        return Saved(row_json(change.layer, changed))


def _layers(base: sqlite3.Connection) -> set[str]:
    return {
        row[0] for row in base.execute("SELECT table_name FROM gpkg_contents WHERE data_type = 'features'")
    }


def _vertices(row: sqlite3.Row) -> list[list[float]]:
    shape = shape_of(row["geom"])
    xy = shapely.get_coordinates(shape)
    kept: list[list[float]] = np.round(xy[:-1] if shape.geom_type == "Polygon" else xy, 3).tolist()
    return kept


def _value(row: sqlite3.Row, name: str) -> Any:
    return plain_value(row[name]) if name in row.keys() else None  # noqa: SIM118


def _stands(row: sqlite3.Row, change: Change) -> bool:
    """Say whether everything asked for is there already."""
    shape = change.path is None or _vertices(row) == [list(at) for at in change.path[1]]
    return shape and all(_value(row, name) == after for name, (_, after) in change.words.items())


def _moved_on(row: sqlite3.Row, change: Change) -> bool:
    """Say whether what is to be changed is no more what the browser saw."""
    if change.path is not None and _vertices(row) != [list(at) for at in change.path[0]]:
        return True
    return any(
        _value(row, name) != before for name, (before, _) in change.words.items() if name not in _SIGNED
    )


def _update(base: sqlite3.Connection, change: Change, row: sqlite3.Row) -> None:
    have = columns_in(base, change.layer)
    values: dict[str, Any] = {name: after for name, (_, after) in change.words.items()}
    lacking = [name for name in values if name not in have]
    if lacking:
        raise ChangeError(f"features.gpkg has no column {', '.join(lacking)} in layer {change.layer}")
    if change.path is not None:
        old = shape_of(row["geom"])
        shape = _shape(change.layer, change.path[1], _heights(old, change.path[1]))
        values |= _sizes(change.layer, shape, have)
        values["geom"] = blob_of(shape, _srs(base, change.layer))
    told = ", ".join(f"{quoted(name)} = ?" for name in values)
    base.execute(f"UPDATE {quoted(change.layer)} SET {told} WHERE fid = ?", (*values.values(), row["fid"]))


def _add(base: sqlite3.Connection, layer: str, path: Path, columns: Mapping[str, Any]) -> int:
    have = columns_in(base, layer)
    shape = _shape(layer, path, np.zeros(len(path)))
    values = {name: value for name, value in columns.items() if name in have}
    same = base.execute(
        f'SELECT fid, geom FROM {quoted(layer)} WHERE "when" = ? AND id = ?',
        (columns.get("when"), columns.get("id")),
    ).fetchall()
    for row in same:  # sent again after an answer that never came
        if shapely.equals_exact(shapely.force_2d(shape_of(row["geom"])), shapely.force_2d(shape), 1e-6):
            return int(row["fid"])
    values["id"] = _free_id(base, layer, values.get("id"))
    values |= _sizes(layer, shape, have)
    values["geom"] = blob_of(shape, _srs(base, layer))
    names = ", ".join(quoted(name) for name in values)
    made = base.execute(
        f"INSERT INTO {quoted(layer)} ({names}) VALUES ({', '.join('?' * len(values))})",
        tuple(values.values()),
    )
    assert made.lastrowid is not None
    return made.lastrowid


def _free_id(base: sqlite3.Connection, layer: str, wished: Any) -> str:
    """Give the identity that was wished for, or the next free number where another browser took it."""
    letter = {"linear": "L", "outlines": "A", "points": "P"}[layer]
    taken = {row[0] for row in base.execute(f"SELECT id FROM {quoted(layer)}")}
    if isinstance(wished, str) and wished.startswith(letter) and wished[1:].isdigit() and wished not in taken:
        return wished
    numbers = [int(key[1:]) for key in taken if key and key.startswith(letter) and key[1:].isdigit()]
    return f"{letter}{max(numbers, default=0) + 1}"


def _remove(base: sqlite3.Connection, layer: str, row: sqlite3.Row) -> Saved:
    """Take a drawn row away; what the machine found is rejected, never removed, or it would be found again."""
    kind = {"linear": "linear", "outlines": "outline", "points": "point"}.get(layer)
    found = base.execute("SELECT 1 FROM as_found WHERE id = ? AND kind = ?", (row["id"], kind)).fetchone()
    if kind is None or found is not None or row["status"] == "found":
        raise ChangeError("only what a person drew can be removed; reject the others")
    base.execute(f"DELETE FROM {quoted(layer)} WHERE fid = ?", (row["fid"],))
    _tell_contents(base, layer)
    return Saved(None)


def _heights(old: shapely.Geometry, path: Path) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Z of moved vertices: along a line by share of its length, else the middle of what stood there."""
    xyz = shapely.get_coordinates(old, include_z=True)
    z = np.nan_to_num(xyz[:, 2])
    if old.geom_type != "LineString" or len(path) < 2:
        return np.full(len(path), float(np.median(z)))
    return np.asarray(np.interp(share_along(np.asarray(path)), share_along(xyz[:, :2]), z))


def _shape(layer: str, path: Path, z: np.ndarray[Any, np.dtype[np.float64]]) -> shapely.Geometry:
    xyz = np.column_stack([np.asarray(path, dtype=np.float64), z])
    if layer == "points":
        return shapely.Point(xyz[0])
    if layer == "linear":
        return shapely.LineString(xyz)
    shape = shapely.Polygon(xyz)
    if not shape.is_valid or shape.area <= 0:
        raise ChangeError("the edge of the area crosses itself; put its vertices in order round it")
    return shape


def _sizes(layer: str, shape: shapely.Geometry, have: tuple[str, ...]) -> dict[str, float]:
    """Length and area follow the shape at once; all other measures wait for the next run."""
    sizes = {"linear": {"length_m": shape.length}, "outlines": {"area_m2": shape.area}}.get(layer, {})
    return {name: round(float(value), 2) for name, value in sizes.items() if name in have}


def _srs(base: sqlite3.Connection, layer: str) -> int:
    return int(
        base.execute("SELECT srs_id FROM gpkg_geometry_columns WHERE table_name = ?", (layer,)).fetchone()[0]
    )


def _tell_contents(base: sqlite3.Connection, layer: str) -> None:
    """Keep the table of contents true: when it changed, and the box of the layer."""
    assert layer in LAYERS or layer == "rejected"
    tree = quoted(f"rtree_{layer}_geom")
    has = base.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (f"rtree_{layer}_geom",)).fetchone()
    box: tuple[Any, ...] = (None,) * 4
    if has is not None:
        box = tuple(base.execute(f"SELECT min(minx), min(miny), max(maxx), max(maxy) FROM {tree}").fetchone())
    base.execute(
        "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ', 'now'),"
        " min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?",
        (*box, layer),
    )
