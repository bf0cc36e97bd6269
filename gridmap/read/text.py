"""Read a matrix of numbers in delimited text into a `Line`: numbers from `text_rows`, meaning from here."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64, Line
from gridmap.model.layout import TextLayout
from gridmap.read.headings import Heading, heading, time_unit
from gridmap.read.line_info import LineInfo
from gridmap.read.matrix import Matrix, info_of, line_of, to_float32
from gridmap.read.orient import guess_traces_in
from gridmap.read.sample_times import NS_PER, SampleTimes, counts, even_steps
from gridmap.read.text_rows import DELIMITERS, Table, read_table

DEFAULT = TextLayout()
_BESIDE = ("x", "y", "number", "utc_s", "skip")
_LEAST_EVEN = 8
"""Numbers in even steps that are needed to take them for an axis: a trace has none by chance."""


def read_text(
    path: Path | str,
    *,
    name: str | None = None,
    sample_interval_ns: float | None = None,
    layout: TextLayout = DEFAULT,
) -> Line:
    """Read one text matrix as one line.

    Parameters
    ----------
    path : Path
        The file.
    name : str or None
        The line's name; None takes the file's name without suffix.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules layout and file.
    layout : TextLayout
        What the user states; the rest is guessed.

    Returns
    -------
    Line
        Traces (trace, sample) float32; `notes` say what was guessed.

    Raises
    ------
    ReadError
        If a cell is no finite number (row and column are named), rows are of unequal length, or neither file nor
        user says how traces stand or what the sample interval is.
    """
    path = Path(path)
    return line_of(_matrix(path, layout), name or path.stem, _stated(layout, sample_interval_ns))


def describe_text(
    path: Path | str, *, sample_interval_ns: float | None = None, layout: TextLayout = DEFAULT
) -> LineInfo:
    """Describe one text matrix; text has no header, so all of it is read."""
    return info_of(_matrix(Path(path), layout), _stated(layout, sample_interval_ns))


def _stated(layout: TextLayout, argument: float | None) -> float | None:
    return layout.sample_interval_ns if argument is None else argument


def _check(layout: TextLayout) -> None:
    """Refuse a layout that cannot be."""
    faults = {
        "delimiter": layout.delimiter not in (None, *DELIMITERS),
        "decimal": layout.decimal not in (None, ".", ",") or (layout.delimiter, layout.decimal) == ("comma", ","),
        "traces_in": layout.traces_in not in (None, "rows", "columns"),
        "time_unit": layout.time_unit not in (None, *NS_PER),
        "before_samples": any(word not in _BESIDE for word in layout.before_samples or ()),
        "header_rows": layout.header_rows is not None and layout.header_rows < 0,
    }
    for key, fault in faults.items():
        if fault:
            raise ReadError(f"the text layout says {key} = {getattr(layout, key)!r}, which cannot be.")


def _matrix(path: Path, layout: TextLayout) -> Matrix:
    try:
        _check(layout)
        table = read_table(path, layout)
        return _sort_out(table, layout, path.name)
    except ReadError as problem:
        words = str(problem)
        raise ReadError(words if words.startswith(path.name) else f"{path.name}: {words}") from None


def _sort_out(table: Table, layout: TextLayout, source: str) -> Matrix:
    """Tell samples, sample times and what stands beside the traces apart."""
    names = [heading(text) for text in table.headings]
    traces_in, notes = layout.traces_in, table.notes
    if traces_in is None:
        traces_in, note = _guess_traces_in(table, names, layout)
        notes = (*notes, note)
    if traces_in == "rows":
        times, body, lead, more = _traces_in_rows(table, names, layout)
    else:
        times, body, lead, more = _traces_in_columns(table, names, layout)
    if body.size == 0:
        raise ReadError("no samples are left beside the axes. Check before_samples and sample_times of the text.")
    beside = {word: np.ascontiguousarray(column) for word, column in lead if word != "skip"}
    kind = f"text, traces in {traces_in}"
    return Matrix(source, kind, "decimal text", to_float32(body, source), times, beside, (*notes, *more))


Parts = tuple[SampleTimes | None, Float64, list[tuple[str, Float64]], tuple[str, ...]]
"""Sample times; samples (trace, sample); what stands beside, each (trace,); notes."""


def _traces_in_rows(table: Table, names: list[Heading], layout: TextLayout) -> Parts:
    lead, note = _lead(table.cells, names, layout)
    notes = (note,) if note else ()
    if layout.sample_times is not False and not (layout.sample_times and not _numbers(table.headings, len(lead)).size):
        above = _numbers(table.headings, len(lead))
        if above.size and (layout.sample_times or even_steps(above)):
            unit = layout.time_unit or next((n.unit for n in names[: len(lead)] if n.unit), None)
            times = SampleTimes(above, unit, "the row above the numbers")
            return times, table.cells[:, len(lead) :], _columns(table.cells, lead), notes
    first = table.cells[0, len(lead) :]
    guess = layout.sample_times is None and len(table.cells) > 1 and even_steps(first, _LEAST_EVEN)
    if layout.sample_times or guess:
        where = f"row {table.first_row}"
        body = table.cells[1:]
        if guess and counts(first) and layout.time_unit is None:
            notes = (*notes, f"{where} counts the samples; not used")
            return None, body[:, len(lead) :], _columns(body, lead), notes
        return (
            SampleTimes(first, layout.time_unit, where), body[:, len(lead) :], _columns(body, lead), notes,
        )  # fmt: skip
    return None, table.cells[:, len(lead) :], _columns(table.cells, lead), notes


def _traces_in_columns(table: Table, names: list[Heading], layout: TextLayout) -> Parts:
    """Turn the table over: its first rows stand beside the traces, its first column holds the sample times."""
    first = table.cells[:, 0]
    notes: tuple[str, ...] = ()
    lead: tuple[str, ...] = layout.before_samples or ()
    rest = table.cells[:, 1:]
    if layout.before_samples is None and len(table.cells) > 1 and even_steps(rest[0], _LEAST_EVEN):
        lead, notes = ("skip",), (f"row {table.first_row} rises in even steps; taken as positions, not used",)
    times, named = None, bool(names) and names[0].meaning == "time"
    column = first[len(lead) :]
    if layout.sample_times or (
        layout.sample_times is None and table.cells.shape[1] > 1 and (named or even_steps(column, _LEAST_EVEN))
    ):
        unit = layout.time_unit or (names[0].unit if names else None)
        if unit is None and layout.sample_times is None and not named and counts(column):
            notes = (*notes, "the first column counts the samples; not used")
        else:
            times = SampleTimes(column, unit, "the first column")
        body = table.cells[:, 1:]
    else:
        body = table.cells
    return times, body[len(lead) :].T, [(word, body[i]) for i, word in enumerate(lead)], notes


def _lead(cells: Float64, names: list[Heading], layout: TextLayout) -> tuple[tuple[str, ...], str]:
    """Say what the columns before the first sample are, for traces in rows."""
    if layout.before_samples is not None:
        return layout.before_samples[: cells.shape[1]], ""
    known = 0
    while known < len(names) and names[known].meaning in ("x", "y", "number", "utc_s"):
        known += 1
    if known:
        words = tuple(str(name.meaning) for name in names[:known])
        if len(set(words)) == known:
            return words, f"columns before the samples by their headings: {', '.join(words)}"
    column = cells[1:, 0] if len(cells) > 2 else cells[:, 0]
    if cells.shape[1] > 2 and even_steps(column, _LEAST_EVEN):
        return ("skip",), "the first column rises in even steps; taken as positions or numbers of traces, not used"
    return (), ""


def _guess_traces_in(table: Table, names: list[Heading], layout: TextLayout) -> tuple[str, str]:
    """Guess from headings, else from the likeness of neighbours."""
    first = names[0].meaning if names else None
    if first in ("x", "y", "number", "utc_s"):
        return "rows", f'traces in rows: the first column is headed "{table.headings[0][:20]}"'
    cells = table.cells
    if first == "time" and even_steps(cells[:, 0]):
        return "columns", f'traces in columns: the first column is headed "{table.headings[0][:20]}"'
    rows, columns = (1 if even_steps(cells[0, 1:], _LEAST_EVEN) else 0), 0
    if even_steps(cells[rows:, 0], _LEAST_EVEN):
        columns = 1
    body = cells[rows:, columns:]
    if not body.size:
        body = cells
    with np.errstate(over="ignore"):
        wide = body.astype(np.float32)
    return guess_traces_in(wide if np.isfinite(wide).all() else np.sign(wide))


def _columns(cells: Float64, lead: tuple[str, ...]) -> list[tuple[str, Float64]]:
    return [(word, cells[:, i]) for i, word in enumerate(lead)]


def _numbers(headings: tuple[str, ...], skip: int) -> Float64:
    """Give the headings after the first `skip` as numbers (n,), such as "0.2" or "0.2 ns"; empty if one is none."""
    found = []
    for text in headings[skip:]:
        words = text.replace(",", ".").split()
        try:
            if len(words) == 2 and time_unit(words[1]) is None:
                return np.empty(0)
            found.append(float(words[0]))
        except (ValueError, IndexError):
            return np.empty(0)
    return np.array(found, np.float64)


def with_layout(layout: TextLayout, **stated: object) -> TextLayout:
    """Give a layout with some values stated."""
    return replace(layout, **stated)  # type: ignore[arg-type]
