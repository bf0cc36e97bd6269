"""Delimited text to columns by what they mean: delimiter, header row and decimal sign found, or stated."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64
from gridmap.read.whole import decode_plain, read_whole

Role = Literal[
    "time",
    "date",
    "x",
    "y",
    "easting",
    "northing",
    "longitude",
    "latitude",
    "height",
    "quality",
    "sd",
    "name",
    "line",
    "trace",
    "station",
]

HEADINGS: Mapping[str, tuple[str, ...]] = {
    "time": (
        "time",
        "time_s",
        "utc",
        "utc_time",
        "timestamp",
        "t",
        "t_s",
        "seconds",
        "datetime",
        "date_time",
    ),
    "date": ("date", "utc_date", "day"),
    "x": ("x", "x_m", "local_x", "local_x_m"),
    "y": ("y", "y_m", "local_y", "local_y_m"),
    "easting": ("easting", "easting_m", "east", "east_m", "e", "e_m"),
    "northing": ("northing", "northing_m", "north", "north_m", "n", "n_m"),
    "longitude": ("longitude", "lon", "long", "lng", "longitude_deg", "lon_deg"),
    "latitude": ("latitude", "lat", "latitude_deg", "lat_deg"),
    "height": (
        "height",
        "height_m",
        "z",
        "z_m",
        "elevation",
        "elevation_m",
        "elev",
        "ele",
        "h",
        "h_m",
        "altitude",
        "alt",
    ),
    "quality": ("quality", "fix", "fix_quality", "q", "status"),
    "sd": ("sd", "sd_m", "sigma", "accuracy_m", "hrms", "precision_m"),
    "line": ("line", "line_name", "profile"),
    "trace": ("trace", "trace_number"),
    "station": ("station", "station_m", "distance", "distance_m", "chainage", "chainage_m"),
    "name": ("name", "id", "point", "pt", "code", "number", "no", "nr"),
}
"""Headings that are known without being told, in small letters, by what the column means."""

PLACES = (("x", "y"), ("easting", "northing"), ("longitude", "latitude"))
"""Pairs of which a file must have one; x and y may be local or map, which the site file says."""

MOST_COLUMNS = 1000
LARGEST_BYTES = 32_000_000
"""A list of points or a track as text above this is refused: at 30 bytes a row it is a million rows."""

_NUMBER = re.compile(r"[+-]?(?:\d{1,15}(?:\.\d{0,20})?|\.\d{1,20})(?:[eE][+-]?\d{1,2})?")
_COMMA_NUMBER = re.compile(r"[+-]?\d{1,15},\d{1,20}")


@dataclass(frozen=True, slots=True)
class Columns:
    """The used columns of a delimited text file, as text.

    Attributes
    ----------
    source : str
        The file, as a message would name it.
    cells : dict of str to tuple of str
        By meaning; all of one length.
    headings : dict of str to str
        What each column is called in the file, for messages.
    rows : tuple of int
        Row of the file (1 is the first) of each cell.
    notes : tuple of str
        What was assumed.
    """

    source: str
    cells: dict[str, tuple[str, ...]]
    headings: dict[str, str]
    rows: tuple[int, ...]
    notes: tuple[str, ...]

    def numbers(self, role: str, *, blank: float | None = None) -> Float64:
        """Return a column as finite numbers; an empty cell is `blank`, or refused where that is None."""
        out = np.empty(len(self.rows))
        for index, cell in enumerate(self.cells[role]):
            out[index] = self._number(role, index, cell, blank)
        return out

    def fail(self, role: str, index: int, what: str) -> ReadError:
        """Make the error for one cell."""
        cell = self.cells[role][index]
        shown = "".join(c if c.isprintable() else "?" for c in cell[:40])
        return ReadError(
            f'{self.source}:{self.rows[index]}: column {self.headings[role]} holds "{shown}", {what}.'
            " Correct the row or take it out."
        )

    def _number(self, role: str, index: int, cell: str, blank: float | None) -> float:
        if not cell and blank is not None:
            return blank
        text = cell.replace(",", ".") if _COMMA_NUMBER.fullmatch(cell) else cell
        if not text.isascii() or not _NUMBER.fullmatch(text) or not math.isfinite(float(text)):
            raise self.fail(role, index, "which is no number")
        return float(text)


def read_columns(
    path: Path | str, columns: Mapping[str, str | int] | None = None, *, needs: Sequence[str] = ()
) -> Columns:
    """Read delimited text.

    Parameters
    ----------
    path : Path
        Comma, semicolon, tab or blanks between cells; rows that begin with # and empty rows are passed over.
    columns : mapping or None
        From meaning (a key of `HEADINGS`) to the heading in the file, or to the number of the column (1 is
        the first) where the file has no headings. Headings not told are found by `HEADINGS`.
    needs : sequence of str
        Meanings that must be there.

    Returns
    -------
    Columns
        One pair of `PLACES` at least, and all of `needs`.

    Raises
    ------
    ReadError
        If the file is no text, a column is not there or told twice, or a row is too short.
    """
    path = Path(path)
    told = dict(columns or {})
    for role in told:
        if role not in HEADINGS:
            raise ReadError(
                f"{path.name}: columns has no meaning {role}{_near(role, list(HEADINGS))}. The meanings are"
                f" {', '.join(HEADINGS)}."
            )
    text, notes = decode_plain(read_whole(path, LARGEST_BYTES), path.name)
    rows = [
        (number, line)
        for number, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not rows:
        raise ReadError(f"{path.name}: holds no rows. Export it again.")
    delimiter = _delimiter(rows[0][1], rows[-1][1])
    first = _split(rows[0][1], delimiter)
    if len(first) > MOST_COLUMNS:
        raise ReadError(
            f"{path.name}: more than {MOST_COLUMNS} columns in its first row. Export only those of the points."
        )
    by_number = bool(told) and all(isinstance(value, int) for value in told.values())
    where, headings = _numbered(path.name, told, len(first)) if by_number else _headed(path.name, told, first)
    place = next((pair for pair in PLACES if set(pair) <= set(where)), None)
    missing = [role for role in needs if role not in where]
    if place is None or missing:
        lacks = missing or ["x and y, easting and northing, or longitude and latitude"]
        shown = ", ".join(cell[:20] for cell in first[:12])
        raise ReadError(
            f"{path.name}:{rows[0][0]}: no column for {', '.join(lacks)} (first row: {_plain(shown)}). Name it in the"
            f' site file, such as columns = {{ {(missing or ["x"])[0]} = "..." }}.'
        )
    body = rows if by_number and _has_numbers(first, where, place) else rows[1:]
    if not body:
        raise ReadError(f"{path.name}: headings but no rows below. Export it again.")
    last = max(where.values())
    cells: dict[str, list[str]] = {role: [] for role in where}
    for number, line in body:
        parts = _split(line, delimiter)
        if len(parts) <= last:
            raise ReadError(
                f"{path.name}:{number}: {len(parts)} cells where {last + 1} are needed. Complete the row or take it"
                " out."
            )
        for role, index in where.items():
            cells[role].append(parts[index])
    held = {role: tuple(column) for role, column in cells.items()}
    return Columns(path.name, held, headings, tuple(number for number, _ in body), notes)


def _numbered(
    source: str, told: Mapping[str, str | int], count: int
) -> tuple[dict[str, int], dict[str, str]]:
    where: dict[str, int] = {}
    for role, value in told.items():
        if not 1 <= int(value) <= count:
            raise ReadError(
                f"{source}: column {value} for {role}, but the first row has {count}. Count from 1."
            )
        where[role] = int(value) - 1
    return where, {role: f"{value}" for role, value in told.items()}


def _headed(
    source: str, told: Mapping[str, str | int], first: list[str]
) -> tuple[dict[str, int], dict[str, str]]:
    where: dict[str, int] = {}
    lower = [cell.casefold() for cell in first]
    for role, value in told.items():
        if isinstance(value, int):
            raise ReadError(
                f"{source}: columns mixes numbers and headings. Give all by number or all by heading."
            )
        found = [index for index, cell in enumerate(lower) if cell == value.strip().casefold()]
        if len(found) != 1:
            many = "no column" if not found else f"{len(found)} columns"
            shown = ", ".join(cell[:20] for cell in first[:12])
            raise ReadError(
                f"{source}: {many} with the heading {_plain(value)}{_near(value, first) if not found else ''}."
                f" The first row is {_plain(shown)}."
            )
        where[role] = found[0]
    taken = set(where.values())
    plain = [re.sub(r"[\s(\[]+", "_", cell).strip("_)]") for cell in lower]
    for role, names in HEADINGS.items():
        hits = [i for i, cell in enumerate(plain) if cell in names and i not in taken]
        if role in where or not hits:
            continue
        if len(hits) > 1:
            hits.sort(key=lambda i: names.index(plain[i]))
        where[role] = hits[0]
        taken.add(hits[0])
    return where, {role: _plain(first[index])[:30] for role, index in where.items()}


def _delimiter(first: str, last: str) -> str:
    for mark in ("\t", ";", ","):
        if mark in first and mark in last:
            return mark
    return next((mark for mark in ("\t", ";", ",") if mark in first), " ")


def _split(line: str, delimiter: str) -> list[str]:
    mark = None if delimiter == " " else delimiter
    cells = line.split(mark, MOST_COLUMNS + 1)
    return [cell.strip().strip('"').strip() for cell in cells]


def _has_numbers(first: Sequence[str], where: Mapping[str, int], place: tuple[str, str]) -> bool:
    return all(_NUMBER.fullmatch(first[where[role]].replace(",", ".")) for role in place)


def _near(word: str, choices: Sequence[str]) -> str:
    near = difflib.get_close_matches(word.casefold(), [c.casefold() for c in choices[:50]], n=1, cutoff=0.6)
    return f" (did you mean {_plain(near[0])}?)" if near else ""


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text[:200])
