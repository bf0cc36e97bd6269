"""Read a matrix of numbers in delimited text into a `Line`: numbers from `text_rows`, meaning from here."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64, Line
from gridmap.model.layout import TextLayout, TracesIn
from gridmap.read.headings import Heading, heading, time_unit
from gridmap.read.line_info import LineInfo
from gridmap.read.matrix import Matrix, info_of, line_of, naming
from gridmap.read.orient import guess_traces_in, refuse_contradiction
from gridmap.read.sample_times import NS_PER, SampleTimes, counts, even_steps
from gridmap.read.text_rows import DELIMITERS, Form, Table, read_table

DEFAULT = TextLayout()
_BESIDE = ("x", "y", "number", "utc_s", "skip")
_NO_SAMPLES = "no samples are left beside the axes. Check before_samples and sample_times of the text layout."
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
        If a cell is no finite number (row and column are named), rows are of unequal length, or neither file
        nor user says how traces stand or what the sample interval is.
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
        "decimal": layout.decimal not in (None, ".", ",")
        or (layout.delimiter, layout.decimal) == ("comma", ","),
        "traces_in": layout.traces_in not in (None, "rows", "columns"),
        "time_unit": layout.time_unit not in (None, *NS_PER),
        "before_samples": any(word not in _BESIDE for word in layout.before_samples or ()),
        "header_rows": layout.header_rows is not None and layout.header_rows < 0,
    }
    for key, fault in faults.items():
        if fault:
            raise ReadError(f"the text layout says {key} = {getattr(layout, key)!r}, which cannot be.")


def _matrix(path: Path, layout: TextLayout) -> Matrix:
    with naming(path.name):
        _check(layout)
    table = read_table(path, layout)
    with naming(path.name):
        return _sort_out(table, layout, path.name)


def _sort_out(table: Table, layout: TextLayout, source: str) -> Matrix:
    """Tell samples, sample times and what stands beside the traces apart."""
    names = [heading(text) for text in table.headings]
    traces_in, notes = layout.traces_in, table.notes
    if traces_in is None:
        traces_in, note = _guess_traces_in(table, names, layout)
        notes = (*notes, note)
    if len(layout.before_samples or ()) >= table.cells.shape[traces_in == "rows"]:
        raise ReadError(_NO_SAMPLES)
    if traces_in == "rows":
        times, body, lead, more = _traces_in_rows(table, names, layout)
    else:
        times, body, lead, more = _traces_in_columns(table, names, layout)
    if body.size == 0:
        raise ReadError(_NO_SAMPLES)
    beside = {word: np.ascontiguousarray(column) for word, column in lead if word != "skip"}
    kind = f"text, traces in {traces_in}"
    traces = np.ascontiguousarray(body, np.float32)
    return Matrix(source, kind, "decimal text", traces, times, beside, (*notes, *more))


Parts = tuple[SampleTimes | None, Float64, list[tuple[str, Float64]], tuple[str, ...]]
"""Sample times; samples (trace, sample); what stands beside, each (trace,); notes."""


def _traces_in_rows(table: Table, names: list[Heading], layout: TextLayout) -> Parts:
    """Take the first columns as what stands beside the traces; times from the row above or the first row."""
    words, notes = _lead(table.cells, names, layout)
    cells, skip = table.cells, len(words)
    above = _numbers(table.headings, skip) if layout.sample_times is not False else np.empty(0)
    first = cells[0, skip:]
    times = None
    if above.size > 1 and (layout.sample_times or even_steps(above)):
        unit: str | None = layout.time_unit or next((name.unit for name in names[:skip] if name.unit), None)
        times = SampleTimes(above, unit, "the row above the numbers")
    elif layout.sample_times or (layout.sample_times is None and _is_axis(cells[:, skip:])):
        cells, where = cells[1:], f"row {table.first_row}"
        if layout.sample_times is None and layout.time_unit is None and counts(first):
            notes = (*notes, f"{where} counts the samples; not used")
        else:
            times = SampleTimes(first, layout.time_unit, where)
    return times, cells[:, skip:], [(word, cells[:, i]) for i, word in enumerate(words)], notes


def _traces_in_columns(table: Table, names: list[Heading], layout: TextLayout) -> Parts:
    """Turn the table over: its first rows stand beside the traces, its first column holds the sample times."""
    first = table.cells[:, 0]
    notes: tuple[str, ...] = ()
    lead: tuple[str, ...] = layout.before_samples or ()
    if layout.before_samples is None and _is_axis(table.cells[:, 1:]):
        lead, notes = ("skip",), (f"row {table.first_row} rises in even steps; taken as positions, not used",)
    times, named = None, bool(names) and names[0].meaning == "time"
    column = first[len(lead) :]
    if layout.sample_times or (
        layout.sample_times is None
        and table.cells.shape[1] > 1
        and (named or _is_axis(table.cells[len(lead) :].T))
    ):
        unit: str | None = layout.time_unit or (names[0].unit if names else None)
        if unit is None and layout.sample_times is None and not named and counts(column):
            notes = (*notes, "the first column counts the samples; not used")
        else:
            times = SampleTimes(column, unit, "the first column")
        body = table.cells[:, 1:]
    else:
        body = table.cells
    beside = [(word, row) for word, row in zip(lead, body, strict=False)]
    return times, body[len(lead) :].T, beside, notes


def _lead(
    cells: Float64, names: list[Heading], layout: TextLayout
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Say what the columns before the first sample are, for traces in rows; and a note where that is a guess."""
    if layout.before_samples is not None:
        return layout.before_samples, ()
    known = 0
    while known < len(names) and names[known].meaning in _BESIDE:
        known += 1
    words = tuple(str(name.meaning) for name in names[:known])
    if known and len(set(words)) == known:
        return words, (f"columns before the samples by their headings: {', '.join(words)}",)
    if cells.shape[1] > 2 and _is_axis(cells[1:].T):
        note = "the first column rises in even steps; taken as positions or numbers of traces, not used"
        return ("skip",), (note,)
    return (), ()


def _guess_traces_in(table: Table, names: list[Heading], layout: TextLayout) -> tuple[TracesIn, str]:
    """Guess from headings, else from the likeness of neighbours."""
    first = names[0].meaning if names else None
    counted = (
        even_steps(table.cells[:, 0], least=2) and (table.cells[:, 0] == np.rint(table.cells[:, 0])).all()
    )
    if first in ("x", "y", "utc_s") or (first == "number" and counted):
        return "rows", f'traces in rows: the first column is headed "{table.headings[0][:20]}"'
    cells = table.cells
    if first == "time" and even_steps(cells[:, 0]):
        why = f'the first column is headed "{table.headings[0][:20]}"'
        refuse_contradiction(cells[:, 1:].astype(np.float32), "columns", why)
        return "columns", f"traces in columns: {why}"
    body = cells[int(_is_axis(cells[:, 1:])) :]
    body = body[:, int(_is_axis(body.T)) :]
    return guess_traces_in(body.astype(np.float32))


def _is_axis(cells: Float64) -> bool:
    """Say whether the first row of numbers (row, column) is an axis: it rises in even steps, the second does not."""
    return len(cells) > 1 and even_steps(cells[0], _LEAST_EVEN) and not even_steps(cells[1], _LEAST_EVEN)


def _numbers(headings: tuple[str, ...], skip: int) -> Float64:
    """Give the headings after the first `skip` as numbers (n,), such as "0.2" or "0.2 ns"; empty if one is none."""
    form, found = Form("space", "."), []
    for text in headings[skip:]:
        words = text.strip().split()
        value = form.number(words[0]) if words else None
        if value is None or len(words) > 2 or (len(words) == 2 and time_unit(words[1]) is None):
            return np.empty(0)
        found.append(value)
    return np.array(found, np.float64)
