"""Describe a SEG-Y file from its headers alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Int64
from gridmap.read import segy_layout as at
from gridmap.read.line_info import LineInfo
from gridmap.read.opening import open_file
from gridmap.read.segy import interval_of
from gridmap.read.segy_extent import read_heads, read_layout, unequal_lengths
from gridmap.read.segy_headers import Layout
from gridmap.read.segy_layout import Heads, trace_field
from gridmap.read.segy_text import text_lines
from gridmap.read.segy_traces import delay_ns, header_xy, trace_numbers, trace_times

TEXT_LINES = 10


def describe_segy(path: Path | str, *, sample_interval_ns: float | None = None) -> LineInfo:
    """Describe one SEG-Y file; samples are not read.

    Parameters
    ----------
    path : Path
        The file.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules the file.

    Raises
    ------
    ReadError
        If the file is not what its headers say. A sample interval that cannot be decided, or delays or
        lengths that differ from trace to trace, are told in `trouble` instead, so that the rest can be
        looked at.
    """
    path = Path(path)
    with open_file(path) as stream:
        layout = read_layout(stream, path.name)
        heads = read_heads(stream, layout)
    if not heads.size:
        raise ReadError(
            f"{layout.source}: the file became shorter while it was read. Copy it again, then retry."
        )
    number, number_notes = trace_numbers(heads, layout.order)
    time_s, time_notes = trace_times(heads, layout.order)
    xy, xy_notes = header_xy(heads, layout.order)
    major, minor = layout.revision
    info = LineInfo(
        source=layout.source,
        kind=f"SEG-Y revision {major}" + (f".{minor}" if minor else ""),
        byte_order=at.ORDER_WORDS[layout.order],
        sample_format=layout.sample_format.words,
        traces=layout.traces,
        samples=layout.samples,
        interval_ns=None,
        window_ns=None,
        first_time_s=None if time_s is None else float(time_s.min()),
        last_time_s=None if time_s is None else float(time_s.max()),
        xy_bounds=None if xy is None else (*map(float, xy.min(axis=0)), *map(float, xy.max(axis=0))),  # type: ignore[arg-type]
        gaps=number_gaps(number),
        missing=None if number is None else int(number[-1] - number[0] + 1 - len(number)),
        text=text_lines(layout.head[: at.TEXT_BYTES], TEXT_LINES),
    )
    return _with_times(info, layout, heads, sample_interval_ns, (*number_notes, *time_notes, *xy_notes))


def number_gaps(number: Int64 | None) -> tuple[tuple[int, int], ...]:
    """Give each pair of neighbours in the increasing trace numbers (trace,) that leaves numbers out."""
    if number is None:
        return ()
    jump = np.flatnonzero(np.diff(number) > 1)
    return tuple((int(number[i]), int(number[i + 1])) for i in jump)


def _with_times(
    info: LineInfo, layout: Layout, heads: Heads, stated_ns: float | None, notes: tuple[str, ...]
) -> LineInfo:
    """Add interval, window and delay, or the trouble that keeps them from being known."""
    error = unequal_lengths(trace_field(heads, at.T_SAMPLES, layout.order), layout)
    if error is not None:
        return replace(info, notes=(*layout.notes, *notes), trouble=str(error))
    try:
        interval = interval_of(layout, heads, stated_ns)
        start_ns, delay_notes = delay_ns(heads, layout.order, interval.unit_ns, layout.revision[0])
    except ReadError as problem:
        return replace(info, notes=(*layout.notes, *notes), trouble=f"{layout.source}: {problem}")
    return replace(
        info,
        interval_ns=interval.ns,
        window_ns=interval.ns * layout.samples,
        start_ns=start_ns,
        notes=(*layout.notes, interval.note, *delay_notes, *notes),
    )
