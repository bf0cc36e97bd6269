"""Read surveyed points of lines, such as a total station's: the line each belongs to, and where on it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Literal

import numpy as np

from gridmap.errors import ReadError
from gridmap.model.track import Stations
from gridmap.read.columns import read_columns
from gridmap.read.points import places_of


def read_stations(
    path: Path | str,
    columns: Mapping[str, str | int] | None = None,
    *,
    xy_frame: Literal["local", "map"] = "local",
) -> Stations:
    """Read points that lie on lines.

    Parameters
    ----------
    path : Path
        Delimited text: a line's name, easting and northing or x and y, and where such are known a height, and the
        trace taken there or the taped distance from the start of the line.
    columns : mapping or None
        See `gridmap.read.columns.read_columns`.
    xy_frame : "local" or "map"
        What columns called x and y hold; easting and northing are always of the map.

    Returns
    -------
    Stations
        In the order of the file.

    Raises
    ------
    ReadError
        If the file cannot be read, has no column of lines, or a cell holds no number; names the row and the column.
    """
    table = read_columns(path, columns, needs=("line",))
    frame, place, pair = places_of(table, xy_frame)
    if frame == "degrees":
        raise ReadError(
            f"{table.source}: points in longitude and latitude are not taken. Export them in the map's CRS, in metres."
        )
    for axis, role in enumerate(pair):
        bare = np.flatnonzero(np.isnan(place[:, axis]))
        if bare.size:
            raise table.fail(role, int(bare[0]), "and the place is not complete")
    blank = np.full(len(table.rows), np.nan)
    height, trace, station = (
        table.numbers(role, blank=np.nan) if role in table.cells else blank
        for role in ("height", "trace", "station")
    )
    nameless = [index for index, name in enumerate(table.cells["line"]) if not name]
    if nameless:
        raise table.fail("line", nameless[0], "which names no line")
    return Stations(
        tuple(name[:80] for name in table.cells["line"]), frame, np.column_stack([place, height]), trace, station,
        table.source, table.notes,
    )  # fmt: skip
