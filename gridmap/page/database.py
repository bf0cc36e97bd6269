"""features.gpkg as an SQLite database: opened for each request, changed in one transaction or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gridmap.errors import ReadError
from gridmap.page.blob import box_of

_WAIT_S = 10.0


@contextmanager
def opened(path: Path, *, write: bool) -> Iterator[sqlite3.Connection]:
    """Open the file; with `write` everything in the block is one transaction, on the disk when the block ends.

    Raises
    ------
    ReadError
        If there is no such file, or it is no database.
    sqlite3.OperationalError
        If another program holds it for longer than ten seconds.
    """
    if not path.is_file():
        raise ReadError(f"{path.name}: is gone. Map the survey again.")
    base = sqlite3.connect(path, timeout=_WAIT_S, isolation_level=None)
    try:
        base.row_factory = sqlite3.Row
        _teach(base)
        base.execute("PRAGMA synchronous = FULL")
        base.execute("BEGIN IMMEDIATE" if write else "BEGIN")
        try:
            yield base
        except BaseException:
            base.execute("ROLLBACK")
            raise
        base.execute("COMMIT")
    except sqlite3.DatabaseError as problem:
        if isinstance(problem, sqlite3.OperationalError):
            raise
        raise ReadError(f"{path.name}: cannot be read as a GeoPackage ({problem}).") from problem
    finally:
        base.close()


def _teach(base: sqlite3.Connection) -> None:
    """Give SQLite the functions that the triggers of a GeoPackage's spatial index call."""
    for name, at in (("ST_MinX", 0), ("ST_MinY", 1), ("ST_MaxX", 2), ("ST_MaxY", 3)):
        base.create_function(
            name, 1, lambda blob, at=at: (box_of(blob) or (None,) * 4)[at], deterministic=True
        )
    base.create_function("ST_IsEmpty", 1, lambda blob: box_of(blob) is None, deterministic=True)


def columns_in(base: sqlite3.Connection, layer: str) -> tuple[str, ...]:
    """Names of a layer's columns but for its key and geometry; empty where there is no such layer."""
    return tuple(
        row["name"]
        for row in base.execute("SELECT name FROM pragma_table_info(?)", (layer,))
        if row["name"] not in ("fid", "geom")
    )


def quoted(name: str) -> str:
    """Quote the name of a table or column."""
    return '"' + name.replace('"', '""') + '"'
