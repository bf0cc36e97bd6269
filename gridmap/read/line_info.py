"""What a line file says of itself, without its samples; and a table of several."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime


@dataclass(frozen=True, slots=True)
class LineInfo:
    """The description of one line file.

    Attributes
    ----------
    source : str
        The file, as a message names it.
    kind : str
        The file format and its revision, in words.
    byte_order : str
        "big-endian", "little-endian", or "" where the format has none.
    sample_format : str
        How a sample is stored, in words.
    traces, samples : int
        Traces in the file; samples a trace.
    interval_ns, window_ns : float or None
        Sample interval and length of the record, nanoseconds; None where it cannot be decided: `trouble`
        says why.
    start_ns : float
        Time of the first sample, nanoseconds.
    first_time_s, last_time_s : float or None
        Earliest and latest trace, UTC seconds since 1970-01-01.
    xy_bounds : (float, float, float, float) or None
        Least x, least y, greatest x, greatest y of the header co-ordinates.
    gaps : tuple of (int, int)
        Each pair of neighbouring trace numbers between which numbers are missing.
    missing : int or None
        How many trace numbers are missing in all; None where the file holds no usable trace numbers.
    text : tuple of str
        First lines of the textual header that hold text, safe to print.
    notes : tuple of str
        What the reader assumed.
    trouble : str
        Why the file cannot be read as a line as it stands, or "".
    """

    source: str
    kind: str
    byte_order: str
    sample_format: str
    traces: int
    samples: int
    interval_ns: float | None
    window_ns: float | None
    start_ns: float = 0.0
    first_time_s: float | None = None
    last_time_s: float | None = None
    xy_bounds: tuple[float, float, float, float] | None = None
    gaps: tuple[tuple[int, int], ...] = ()
    missing: int | None = None
    text: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    trouble: str = ""


_HEADINGS = (
    "file", "format", "order", "samples as", "traces", "missing", "samples", "interval ns", "window ns",
    "first trace UTC", "last trace UTC",
)  # fmt: skip
_TO_THE_RIGHT = {"traces", "missing", "samples", "interval ns", "window ns"}


def as_table(infos: Iterable[LineInfo]) -> str:
    """Lay several descriptions out as an aligned text table, one row a file, notes below.

    A note shared by several files stands once, with the files it holds for.
    """
    infos = tuple(infos)
    if not infos:
        return "no files\n"
    rows = [_HEADINGS, *(_row(info) for info in infos)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(_HEADINGS))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if heading in _TO_THE_RIGHT else cell.ljust(width)
            for cell, width, heading in zip(row, widths, _HEADINGS, strict=True)
        ]
        lines.append("  ".join(cells).rstrip())
    lines.insert(1, "  ".join("-" * width for width in widths))
    lines += _below(infos)
    return "\n".join(lines) + "\n"


def _row(info: LineInfo) -> tuple[str, ...]:
    return (
        info.source,
        info.kind,
        info.byte_order or "-",
        info.sample_format,
        str(info.traces),
        "-" if info.missing is None else str(info.missing),
        str(info.samples),
        "?" if info.interval_ns is None else f"{info.interval_ns:.6g}",
        "?" if info.window_ns is None else f"{info.window_ns:.6g}",
        _clock(info.first_time_s),
        _clock(info.last_time_s),
    )


def _clock(time_s: float | None) -> str:
    return "-" if time_s is None else datetime.fromtimestamp(time_s, UTC).strftime("%Y-%m-%d %H:%M:%S")


def _below(infos: tuple[LineInfo, ...]) -> list[str]:
    """Lines under the table: what is in the way first, then what was assumed."""
    lines = [f"cannot be read as it stands: {info.trouble}" for info in infos if info.trouble]
    holders: dict[str, list[str]] = {}
    for info in infos:
        for note in info.notes:
            holders.setdefault(note, []).append(info.source)
    for note, files in holders.items():
        whom = "all files" if len(files) == len(infos) > 1 else _names(files)
        lines.append(f"note, {whom}: {note}")
    return ["", *lines] if lines else []


def _names(files: list[str], most: int = 4) -> str:
    shown = ", ".join(files[:most])
    return shown if len(files) <= most else f"{shown} and {len(files) - most} more"
