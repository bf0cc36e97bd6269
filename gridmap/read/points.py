"""Read tracks and surveyed points from delimited text: time, place and height columns by heading or number."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64
from gridmap.model.track import QUALITY_WORDS, Frame, Points, Track
from gridmap.read.columns import Columns, read_columns
from gridmap.read.track_times import DAY_S, iso_seconds, make_track, unwrap

SINCE_1970_S = 1e8
"""A time in plain seconds above this counts from 1970-01-01 (it is 1973 there); below, from midnight."""

_CLOCK = re.compile(r"(\d{1,2}):(\d\d):(\d\d(?:[.,]\d{0,12})?)")
_WORDS = {words: code for code, words in QUALITY_WORDS.items()} | {
    "fix": 4,
    "rtk fixed": 4,
    "rtk float": 5,
    "single": 1,
    "dgps": 2,
}
_LARGEST_M = 1e8


def read_points(
    path: Path | str,
    columns: Mapping[str, str | int] | None = None,
    *,
    xy_frame: Literal["local", "map"] = "local",
) -> Points:
    """Read surveyed points, such as terrain points or the points of a total station.

    Parameters
    ----------
    path : Path
        Delimited text with easting and northing, or x and y; a height and a name where there are such.
    columns : mapping or None
        See `gridmap.read.columns.read_columns`.
    xy_frame : "local" or "map"
        What columns called x and y hold; easting and northing are always of the map.

    Returns
    -------
    Points
        In the order of the file.

    Raises
    ------
    ReadError
        If the file cannot be read, or a cell holds no number; names the row and the column.
    """
    table = read_columns(path, columns)
    frame, place, _ = places_of(table, xy_frame)
    if frame == "degrees":
        raise ReadError(
            f"{table.source}: points in longitude and latitude are not taken. Export them in the map's CRS, in metres."
        )
    blank = np.full(len(table.rows), np.nan)
    height = table.numbers("height", blank=np.nan) if "height" in table.cells else blank
    bare = np.flatnonzero(np.isnan(place).any(axis=1))
    if bare.size:
        raise table.fail(_pair(table)[0], int(bare[0]), "and the place is not complete")
    names = table.cells.get("name", ("",) * len(table.rows))
    return Points(
        tuple(name[:80] for name in names), frame, np.column_stack([place, height]), table.source, table.notes
    )


def read_text_track(
    path: Path | str,
    columns: Mapping[str, str | int] | None = None,
    *,
    xy_frame: Literal["local", "map"] = "local",
) -> Track:
    """Read a track from delimited text.

    Parameters
    ----------
    path : Path
        Delimited text with a time and a place in each row. Times are seconds since 1970 or since midnight,
        hh:mm:ss (with a date column where there is one), or ISO 8601.
    columns : mapping or None
        See `gridmap.read.columns.read_columns`.
    xy_frame : "local" or "map"
        What columns called x and y hold.

    Returns
    -------
    Track
        Rows with an empty place are no fixes: left out and counted.

    Raises
    ------
    ReadError
        If the file cannot be read, or a cell is not what its column says; names the row and the column.
    """
    table = read_columns(path, columns, needs=("time",))
    frame, place, _ = places_of(table, xy_frame)
    time_s, dated, notes = _times(table)
    count = len(table.rows)
    height = table.numbers("height", blank=np.nan) if "height" in table.cells else np.full(count, np.nan)
    sd = table.numbers("sd", blank=np.nan) if "sd" in table.cells else np.full(count, np.nan)
    below = np.flatnonzero(sd < 0)
    if below.size:
        raise table.fail("sd", int(below[0]), "and a standard deviation cannot be below 0")
    quality = _qualities(table)
    held = ~np.isnan(place).any(axis=1) & (quality != 0)
    if not held.any():
        raise ReadError(f"{table.source}: {count} rows, and none holds a place. Export the track again.")
    said = [*table.notes, *notes]
    if (~held).any():
        said.append(f"{int((~held).sum())} rows without a place or a fix, left out")
    nan = np.nan
    rows = [
        (float(time_s[i]), float(place[i, 0]), float(place[i, 1]), float(height[i]), nan, int(quality[i]),
         float(sd[i]), float(sd[i]), nan)
        for i in np.flatnonzero(held)
    ]  # fmt: skip
    return make_track(table.source, frame, rows, dated, said)


def _pair(table: Columns) -> tuple[str, str]:
    for pair in (("easting", "northing"), ("longitude", "latitude"), ("x", "y")):
        if set(pair) <= set(table.cells):
            return pair
    raise AssertionError("read_columns promises a place")


def places_of(table: Columns, xy_frame: Literal["local", "map"]) -> tuple[Frame, Float64, tuple[str, str]]:
    """Return what the places are, the places (row, 2) with NaN where a cell is empty, and the columns they are in."""
    pair = _pair(table)
    place = np.column_stack([table.numbers(role, blank=np.nan) for role in pair])
    frames: dict[str, Frame] = {"easting": "map", "longitude": "degrees", "x": xy_frame}
    frame = frames[pair[0]]
    limits = (180.0, 90.0) if frame == "degrees" else (_LARGEST_M, _LARGEST_M)
    for axis, limit in enumerate(limits):
        wrong = np.flatnonzero(np.abs(place[:, axis]) > limit)
        if wrong.size:
            what = "which is no place on Earth"
            raise table.fail(pair[axis], int(wrong[0]), what)
    return frame, place, pair


def _times(table: Columns) -> tuple[Float64, bool, list[str]]:
    cells = table.cells["time"]
    days = [_date(table, index) for index in range(len(cells))] if "date" in table.cells else None
    if _CLOCK.fullmatch(cells[0]):
        of_day = [_clock(table, index, cell) for index, cell in enumerate(cells)]
        time_s, dated, midnights = unwrap(of_day, days if days is not None else [None] * len(cells))
        notes = [f"the clock passes midnight {midnights} times"] if midnights else []
        return time_s, dated, notes
    if "-" in cells[0][1:]:
        out = np.empty(len(cells))
        zoneless = 0
        for index, cell in enumerate(cells):
            time = iso_seconds(cell)
            if time is None:
                raise table.fail("time", index, "which is no date and time such as 2024-05-31T09:12:03.2Z")
            out[index] = time[0]
            zoneless += not time[1]
        return out, True, [f"{zoneless} times without a zone, taken as UTC"] if zoneless else []
    seconds = table.numbers("time")
    wrong = np.flatnonzero(
        (seconds < 0) | (seconds > 4.2e9) | ((seconds > SINCE_1970_S) != (seconds[0] > SINCE_1970_S))
    )
    if wrong.size:
        raise table.fail("time", int(wrong[0]), "which is no time like that of the first row")
    if seconds[0] > SINCE_1970_S:
        return seconds, True, ["times are seconds since 1970-01-01 UTC"]
    time_s, dated, _ = unwrap(list(seconds), days if days is not None else [None] * len(cells))
    if seconds.max() >= 2 * DAY_S:
        raise table.fail(
            "time", int(seconds.argmax()), "which is neither seconds of a day nor seconds since 1970"
        )
    return time_s, dated, ["times are seconds since midnight UTC"]


def _clock(table: Columns, index: int, cell: str) -> float:
    match = _CLOCK.fullmatch(cell)
    if match is None or not cell.isascii():
        raise table.fail("time", index, "which is no time such as 09:12:03.2")
    hour, minute, second = int(match.group(1)), int(match.group(2)), float(match.group(3).replace(",", "."))
    if hour > 23 or minute > 59 or second >= 61:
        raise table.fail("time", index, "which is no time of day")
    return hour * 3600.0 + minute * 60.0 + second


def _date(table: Columns, index: int) -> int:
    time = iso_seconds(table.cells["date"][index] + "T00:00:00Z")
    if time is None:
        raise table.fail("date", index, "which is no date such as 2024-05-31")
    return int(time[0] // DAY_S)


def _qualities(table: Columns) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    out = np.full(len(table.rows), -1, dtype=np.int64)
    for index, cell in enumerate(table.cells.get("quality", ())):
        if not cell:
            continue
        code = int(cell) if re.fullmatch(r"[0-9]{1,2}", cell) else _WORDS.get(cell.casefold())
        if code is None or code not in QUALITY_WORDS:
            raise table.fail("quality", index, "which is no quality code (4 fixed, 5 float, 1 autonomous)")
        out[index] = code
    return out
