"""The tables [text] and [arrays]: how line files without a standard header are laid out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast, get_args

from gridmap.model.layout import ArrayLayout, BeforeSamples, Layouts, TextLayout, TimeUnit, TracesIn
from gridmap.site.keys import Table

_DELIMITERS = ("comma", "semicolon", "tab", "space")
_MARKS = (".", ",")


def read_layouts(text: Sequence[Table], arrays: Sequence[Table]) -> Layouts:
    """Return the layouts of a survey's text and array files; what is not stated is guessed by the readers.

    Parameters
    ----------
    text, arrays : sequence of Table
        None or one of each.

    Returns
    -------
    Layouts
        For `gridmap.read.sniff.read_line`.

    Raises
    ------
    SiteError
        For the first value that cannot be; names the row, the key and the fix.
    """
    return Layouts(
        _text(text[0]) if text else TextLayout(),
        _arrays(arrays[0]) if arrays else ArrayLayout(),
    )


def _text(t: Table) -> TextLayout:
    known: dict[str, Any] = _common(t)
    if "delimiter" in t:
        known["delimiter"] = t.choice("delimiter", _DELIMITERS)
    if "decimal" in t:
        known["decimal"] = t.choice("decimal", _MARKS)
    if "encoding" in t:
        known["encoding"] = t.string(
            "encoding", fix='Write its name, such as "utf-8" or "latin-1".', longest=40
        )
    if "header_rows" in t:
        fix = "Write how many rows stand above the numbers, such as header_rows = 2."
        rows = t.number("header_rows", low=0, high=1e6, fix=fix)
        if rows != int(rows):
            t.fail("header_rows", "rows are counted in whole numbers", fix)
        known["header_rows"] = int(rows)
    if "sample_times" in t:
        known["sample_times"] = t.flag(
            "sample_times", fix="Write true where the first row or column holds times."
        )
    if "before_samples" in t:
        known["before_samples"] = _before(t)
    return TextLayout(**known)


def _arrays(t: Table) -> ArrayLayout:
    known: dict[str, Any] = _common(t)
    for key in ("amplitude", "time", "x", "y", "number", "utc_s"):
        if key in t:
            known[key] = t.string(key, fix="Write the name that the array has in the file.", longest=200)
    return ArrayLayout(**known)


def _common(t: Table) -> dict[str, Any]:
    known: dict[str, Any] = {}
    if "traces_in" in t:
        known["traces_in"] = cast(TracesIn, t.choice("traces_in", get_args(TracesIn)))
    if "time_unit" in t:
        known["time_unit"] = cast(TimeUnit, t.choice("time_unit", get_args(TimeUnit)))
    return known


def _before(t: Table) -> tuple[BeforeSamples, ...]:
    words = get_args(BeforeSamples)
    value = t.values["before_samples"]
    if not isinstance(value, list) or any(item not in words for item in value):
        t.fail(
            "before_samples",
            "is not a list of known words",
            f'Write what stands before the samples, such as ["x", "y"]; known are {", ".join(words)}.',
        )
    return tuple(cast(list[BeforeSamples], value))
