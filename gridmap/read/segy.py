"""Read a SEG-Y line (revisions 0, 1 and 2) into a `Line`; no header is believed before it is checked."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float32, Line
from gridmap.read import segy_layout as at
from gridmap.read.blocks import record_blocks
from gridmap.read.opening import open_file
from gridmap.read.segy_extent import read_layout, unequal_lengths
from gridmap.read.segy_headers import Layout
from gridmap.read.segy_interval import Interval, choose_interval
from gridmap.read.segy_layout import Heads, file_field, trace_field
from gridmap.read.segy_samples import all_finite, decode, sample_view
from gridmap.read.segy_traces import delay_ns, header_xy, trace_numbers, trace_times

BLOCK_BYTES = 1 << 20
"""Bytes read and decoded at a time: few enough to stay in the processor's cache."""


def read_segy(path: Path | str, *, name: str | None = None, sample_interval_ns: float | None = None) -> Line:
    """Read one SEG-Y file as one line.

    Parameters
    ----------
    path : Path
        The file. Revision 0, 1 or 2, either byte order, sample formats 1, 2, 3, 5, 6, 8, 10, 11 and 16.
    name : str or None
        The line's name; None takes the file's name without suffix.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules the file.

    Returns
    -------
    Line
        Traces (trace, sample) float32 in the order of the file; `notes` say what was assumed.

    Raises
    ------
    ReadError
        If the file cannot be opened, is not what its headers say, is cut short, holds traces of unequal
        length, gives no plausible sample interval, or holds a sample that is not a finite number. Nothing is
        repaired in silence: a NaN would spread through every filter, so the message names the first such
        trace and how many there are.
    """
    path = Path(path)
    with open_file(path) as stream:
        layout = read_layout(stream, path.name)
        heads, traces = _read_traces(stream, layout)
    return line_of(layout, heads, traces, name or path.stem, sample_interval_ns)


def line_of(
    layout: Layout, heads: Heads, traces: Float32, name: str, sample_interval_ns: float | None
) -> Line:
    """Put together the line from headers and samples; errors name the file."""
    counts = trace_field(heads, at.T_SAMPLES, layout.order)
    error = unequal_lengths(counts, layout)
    if error is not None:
        raise error
    try:
        interval = interval_of(layout, heads, sample_interval_ns)
        start_ns, delay_notes = delay_ns(heads, layout.order, interval.unit_ns, layout.revision[0])
    except ReadError as problem:
        raise ReadError(f"{layout.source}: {problem}") from None
    number, number_notes = trace_numbers(heads, layout.order)
    time_s, time_notes = trace_times(heads, layout.order)
    xy, xy_notes = header_xy(heads, layout.order)
    return Line(
        name=name,
        traces=traces,
        sample_interval_ns=interval.ns,
        sample_start_ns=start_ns,
        trace_number=number,
        time_s=time_s,
        header_xy=xy,
        source=layout.source,
        notes=(*layout.notes, interval.note, *delay_notes, *number_notes, *time_notes, *xy_notes),
    )


def interval_of(layout: Layout, heads: Heads, stated_ns: float | None) -> Interval:
    """Decide the sample interval from the headers of a file, or raise ReadError without the file's name."""
    exact = file_field(layout.head, at.EXTENDED_INTERVAL_US, layout.order) if layout.revision[0] >= 2 else 0.0
    return choose_interval(
        layout.samples,
        file_field(layout.head, at.INTERVAL, layout.order),
        trace_field(heads, at.T_INTERVAL, layout.order),
        exact,
        stated_ns,
    )


def _read_traces(stream: BinaryIO, layout: Layout) -> tuple[Heads, Float32]:
    """Read all traces block by block: headers (60, trace) words and samples (trace, sample) float32."""
    size, form = layout.trace_bytes, layout.sample_format
    at_once = max(1, min(layout.traces, BLOCK_BYTES // size))
    heads = np.empty((at.HEADER_WORDS, layout.traces), np.uint32)
    out = np.empty((layout.traces, layout.samples), np.float32)
    may_fail = form.kind in ("ibm", "f4", "f8")
    failed = False
    last = 0
    for block in record_blocks(stream, layout.first_trace, size, layout.traces, at_once, layout.source):
        first, last = last, last + len(block)
        words = np.ndarray((len(block), at.HEADER_WORDS), np.uint32, block, 0, (size, at.WORD)).copy()
        for rows in at.HELD_WORDS:
            heads[rows, first:last] = words[:, rows].T
        decode(
            sample_view(block, layout.header_bytes, layout.samples, form, layout.order), form, out[first:last]
        )
        failed = failed or (may_fail and not all_finite(out[first:last]))
    if failed:
        raise _not_finite(out, layout)
    return heads, out


def _not_finite(traces: Float32, layout: Layout) -> ReadError:
    """Name the first trace with a sample that is no finite number, and count them."""
    bad = ~np.isfinite(traces)
    each = bad.sum(axis=1)
    trace = int(np.flatnonzero(each)[0])
    sample = int(np.flatnonzero(bad[trace])[0])
    return ReadError(
        f"{layout.source}: {int(each.sum())} samples in {int((each > 0).sum())} of {len(traces)} traces "
        f"are not finite numbers (NaN, infinite or beyond 3.4e38); the first is sample {sample + 1} of "
        f"trace {trace + 1}. Re-export the file, or check that its headers and samples have the same byte "
        "order and format."
    )
