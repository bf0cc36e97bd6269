"""Delimited text to rows of numbers: encoding, delimiter, decimal mark, comments, headings.

Rows are read one at a time, so that memory stays a small multiple of the length of the file.
"""

from __future__ import annotations

import codecs
import io
import re
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import cast

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64
from gridmap.model.layout import TextLayout
from gridmap.read.opening import open_file
from gridmap.read.sample_times import even_steps

LONGEST_ROW = 1 << 22
"""Characters in a row at most: 400 000 cells."""
LONGEST_CELL = 60
"""Characters of a number at most."""
LARGEST = 3.4e38
"""Greatest magnitude of a number: what float32 holds."""
PROBE_ROWS = 1000
"""Rows above the numbers at most."""
COMMENT = ("#", "%", "!", "//")
DELIMITERS: dict[str, str | None] = {"tab": "\t", "semicolon": ";", "comma": ",", "space": None}
_DELIMITER_WORDS = {"tab": "tabs", "semicolon": "semicolons", "comma": "commas", "space": "white space"}
_TRIALS = tuple(
    (name, mark) for mark in (".", ",") for name in DELIMITERS if not (name == "comma" and mark == ",")
)
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_PLAIN = re.compile(r"[-+0-9.eE,;\s]*", re.ASCII)
_BOMS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


@dataclass(frozen=True, slots=True)
class Form:
    """How the cells of a row are told apart: a key of `DELIMITERS` and a decimal mark."""

    delimiter: str
    decimal: str

    def cells(self, row: str) -> list[str]:
        """Split a row into cells without space or quotes; one delimiter at the end of a row starts no cell."""
        parts = row.split(DELIMITERS[self.delimiter])
        if len(parts) > 1 and not parts[-1].strip():
            parts.pop()
        return [part.strip().strip('"') for part in parts]

    def number(self, cell: str) -> float | None:
        """Read one cell; None if it is no number. Not-a-number and infinity are no numbers either."""
        if self.decimal == ",":
            if "." in cell:
                return None
            cell = cell.replace(",", ".")
        return float(cell) if len(cell) <= LONGEST_CELL and _NUMBER.fullmatch(cell) else None

    def numbers(self, row: str) -> list[float] | None:
        """Read a whole row; None unless every cell is a number."""
        found = [self.number(cell) for cell in self.cells(row)]
        return None if None in found else cast(list[float], found)


@dataclass(frozen=True, slots=True)
class Table:
    """The numbers of a text file.

    Attributes
    ----------
    cells : (row, column) float64
        All numbers, as the file has them.
    first_row : int
        Row of the file, counted from 1, that the first numbers stand in.
    headings : tuple of str
        Cells of the row above the numbers, if it has one cell a column; else empty.
    notes : tuple of str
        What was assumed.
    """

    cells: Float64
    first_row: int
    headings: tuple[str, ...]
    notes: tuple[str, ...]


def looks_like_text(head: bytes) -> bool:
    """Say whether a file starts like delimited text: printable, with a row of numbers or nothing but comments."""
    encoding = next((name for bom, name in _BOMS if head.startswith(bom)), None)
    if not encoding and b"\0" in head:
        return False
    text = head.decode(encoding or "latin-1", "replace")
    if not all(c.isprintable() or c in "\t\r\n\f" or (not encoding and c >= "\x80") for c in text):
        return False
    rows = text.splitlines()
    data = [row for row in rows if _holds_data(row)]
    return any(map(_numeric_start, data)) if data else any(row.strip() for row in rows)


def read_table(path: Path, layout: TextLayout) -> Table:
    """Read all numbers of a text file.

    Raises
    ------
    ReadError
        If the file is no text, holds no numbers, a cell that is no finite number, or rows of unequal length;
        the message names row and column.
    """
    encodings = (layout.encoding,) if layout.encoding else _encodings(path)
    for encoding in encodings:
        try:
            table = _read_in(path, layout, encoding)
        except _WrongEncodingError:
            continue
        except LookupError:
            raise ReadError(
                f'{path.name}: there is no character encoding "{encoding}". State utf-8, latin-1 or utf-16.'
            ) from None
        if encoding == "latin-1" and not layout.encoding:
            return replace(table, notes=("text is not UTF-8, read as Latin-1", *table.notes))
        return table
    raise ReadError(f"{path.name}: is no text in {' or '.join(encodings)}. Save it as UTF-8.")


class _WrongEncodingError(Exception):
    """The bytes are no text in this encoding."""


def _encodings(path: Path) -> tuple[str, ...]:
    """Give the encodings to try: that of the byte order mark, else UTF-8 and Latin-1."""
    with open_file(path) as stream:
        head = stream.read(4)
    return next(((name,) for bom, name in _BOMS if head.startswith(bom)), ("utf-8", "latin-1"))


def _rows(path: Path, encoding: str) -> Iterator[str]:
    """Give the rows of a file without their ends."""
    with open_file(path) as stream:
        text = io.TextIOWrapper(
            io.BufferedReader(cast(io.RawIOBase, stream)), encoding=encoding, newline=None
        )
        count = 0
        while row := _row(text):
            count += 1
            if len(row) > LONGEST_ROW:
                raise ReadError(
                    f"{path.name}: row {count} has more than {LONGEST_ROW} characters, which is no matrix. "
                    "Check that the file is delimited text, one row a line."
                )
            yield row.rstrip("\n")


def _row(text: io.TextIOWrapper) -> str:
    try:
        return text.readline(LONGEST_ROW + 1)
    except UnicodeError:
        raise _WrongEncodingError from None


def _read_in(path: Path, layout: TextLayout, encoding: str) -> Table:
    rows = _rows(path, encoding)
    above: list[str] = []
    form: Form | None = None
    first = ""
    skip = layout.header_rows or 0
    for first in islice(rows, skip + PROBE_ROWS):
        if len(above) >= skip and _holds_data(first):
            form = _form(first, layout)
            if form is not None or layout.header_rows is not None:
                break
        above.append(first)
    if form is None:
        where = (
            f"the first {len(above)} rows hold"
            if layout.header_rows is None
            else f"row {len(above) + 1} holds"
        )
        raise ReadError(
            f"{path.name}: {where} no numbers that can be read, delimited by {_tried(layout)}. State "
            "delimiter, decimal and header_rows of the text in the site file."
        )
    numbers = array("d")
    width = _add(numbers, first, form, 0, path.name, len(above) + 1)
    if layout.header_rows is None:
        _refuse_lost_numbers(above, form, width, path.name)
    count = 1
    for number, row in enumerate(rows, len(above) + 2):
        if _holds_data(row):
            _add(numbers, row, form, width, path.name, number)
            count += 1
    cells = np.frombuffer(numbers, np.float64).reshape(count, width)
    notes = [] if layout.delimiter and layout.decimal else [f"cells told apart by {_words(form)}"]
    if layout.header_rows is None and any(_holds_data(row) for row in above):
        notes.append(f"numbers begin in row {len(above) + 1}; what stands above is no data")
    return Table(cells, len(above) + 1, _headings(above, form, width), tuple(notes))


def _holds_data(row: str) -> bool:
    """Say whether a row is neither blank nor a comment."""
    return bool(row.strip()) and not row.lstrip().startswith(COMMENT)


def _refuse_lost_numbers(above: list[str], form: Form, width: int, source: str) -> None:
    """Raise ReadError for a row that would be skipped as a heading but may be data with a bad cell.

    A heading is words, or words and then numbers in even steps (times or positions).
    """
    for number, row in enumerate(above, 1):
        cells = form.cells(row)
        if not _holds_data(row) or len(cells) != width:
            continue
        values = [form.number(cell) for cell in cells]
        start = next((i for i, value in enumerate(values) if value is not None), width)
        rest = values[start:]
        if not rest or (None not in rest and even_steps(np.array(rest, np.float64), least=2)):
            continue
        column = next(i for i, value in enumerate(values, 1) if value is None)
        raise _bad_cell(source, number, column, cells[column - 1])


def _form(row: str, layout: TextLayout) -> Form | None:
    """Find the first way to split a row that makes numbers of all its cells, more than one if that can be."""
    stated = (layout.delimiter, layout.decimal)
    forms = [Form(n, d) for n, d in _TRIALS if stated[0] in (None, n) and stated[1] in (None, d)]
    if stated == ("comma", ","):
        return None
    good = [form for form in forms if form.numbers(row)]
    return next((form for form in good if len(form.cells(row)) > 1), good[0] if good else None)


def _add(numbers: array[float], row: str, form: Form, width: int, source: str, number: int) -> int:
    """Append the numbers of one row, and give how many they are; `width` 0: any count will do."""
    cells = form.cells(row)
    if width and len(cells) != width:
        raise ReadError(
            f"{source}: row {number} has {len(cells)} cells where the rows before it have {width}. Re-export "
            "the line with all rows of one length, or state header_rows and delimiter of the text in the "
            "site file."
        )
    values = _plain_numbers(row, cells, form)
    if values is None:
        values = []
        for column, cell in enumerate(cells, 1):
            value = form.number(cell)
            if value is None or abs(value) > LARGEST:
                raise _bad_cell(source, number, column, cell)
            values.append(value)
    numbers.extend(values)
    return len(cells)


def _plain_numbers(row: str, cells: list[str], form: Form) -> list[float] | None:
    """Read a row quickly where it holds nothing but digits, signs, marks and e; None: look cell by cell."""
    if form.decimal != "." or not _PLAIN.fullmatch(row) or max(map(len, cells)) > LONGEST_CELL:
        return None
    try:
        values = list(map(float, cells))
    except ValueError:
        return None
    return values if min(values) >= -LARGEST and max(values) <= LARGEST else None


def _bad_cell(source: str, row: int, column: int, cell: str) -> ReadError:
    what = f'"{_shown(cell)}" is not a finite number up to 3.4e38' if cell else "the cell is empty"
    return ReadError(
        f"{source}: row {row}, column {column}: {what}. Correct it, or state delimiter, decimal and "
        "header_rows of the text in the site file."
    )


def _headings(above: list[str], form: Form, width: int) -> tuple[str, ...]:
    """Give the cells of the last row above the numbers that is not blank, if they match the columns."""
    row = next((row for row in reversed(above) if row.strip()), "").strip()
    for mark in COMMENT:
        row = row.removeprefix(mark)
    cells = [cell.strip() for cell in form.cells(row.strip())]
    return tuple(cells) if len(cells) == width else ()


def _numeric_start(row: str) -> bool:
    """Say whether a row, perhaps cut off at its end, is made of numbers."""
    forms = (Form(name, mark) for name, mark in _TRIALS)
    return any(
        all(form.number(cell) is not None for cell in form.cells(row)[:-1] or form.cells(row))
        for form in forms
    )


def _tried(layout: TextLayout) -> str:
    return (
        _DELIMITER_WORDS[layout.delimiter] if layout.delimiter else "tabs, semicolons, commas or white space"
    )


def _words(form: Form) -> str:
    return _DELIMITER_WORDS[form.delimiter] + (" with decimal comma" if form.decimal == "," else "")


def _shown(cell: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in cell[:30]) + ("..." if len(cell) > 30 else "")
