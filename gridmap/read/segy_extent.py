"""Where the traces of a SEG-Y file lie: what its headers promise, held against the length of the file.

Everything is checked before a sample is read, so that no header can make the reader allocate more than a
small multiple of the length of the file.
"""

from __future__ import annotations

import os
from dataclasses import replace
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError
from gridmap.read import segy_layout as at
from gridmap.read.segy_headers import Layout, file_header
from gridmap.read.segy_layout import Heads, file_field, trace_field
from gridmap.read.segy_text import END_STANZA, decode_text

MOST_TEXT_BLOCKS = 1000
"""Extended textual headers looked through for the end mark where their count is not given."""
_DAMAGED = "The header is damaged: copy or export the file again."


def read_layout(stream: BinaryIO, source: str) -> Layout:
    """Read and check the file headers, and hold them against the length of the file.

    Parameters
    ----------
    stream : binary file
        Open for reading, seekable.
    source : str
        The file, as a message names it.

    Raises
    ------
    ReadError
        If the file is empty or cut short, holds traces of unequal length, or headers that cannot be right.
    """
    size = os.fstat(stream.fileno()).st_size
    if size == 0:
        raise ReadError(f"{source}: the file is empty (0 bytes). Copy it again from the recorder.")
    head = read_at(stream, 0, at.FILE_HEADER_BYTES)
    if len(head) < at.FILE_HEADER_BYTES:
        raise ReadError(
            f"{source}: {size} bytes, but the headers of a SEG-Y file alone take {at.FILE_HEADER_BYTES}. "
            "The file is cut short or is not SEG-Y: copy it again from the recorder."
        )
    layout = _with_texts(stream, file_header(head, source), size)
    if layout.revision[0] >= 2:
        layout = _with_extra_headers(layout, size)
    return _with_traces(stream, _with_samples(stream, layout), size)


def read_at(stream: BinaryIO, offset: int, count: int) -> bytes:
    """Read up to `count` bytes from `offset`; fewer where the file ends."""
    stream.seek(offset)
    return stream.read(count)


def read_heads(stream: BinaryIO, layout: Layout) -> Heads:
    """Read the trace headers alone, (60, trace) words; a last one that is cut off is left out."""
    raw = bytearray()
    for trace in range(layout.traces):
        one = read_at(stream, layout.first_trace + trace * layout.trace_bytes, at.TRACE_HEADER_BYTES)
        if len(one) < at.TRACE_HEADER_BYTES:
            break
        raw += one
    return np.ascontiguousarray(np.frombuffer(bytes(raw), np.uint32).reshape(-1, at.HEADER_WORDS).T)


def unequal_lengths(counts: NDArray[np.uint16], layout: Layout) -> ReadError | None:
    """Make the error for traces of unequal length; None where all are alike.

    Headers that agree with each other but not with the file header are no error here: the length of the file
    has settled that. A count of 0 says nothing.

    Parameters
    ----------
    counts : (trace,) uint16
        Trace header bytes 115-116.
    layout : Layout
        Where the traces lie.
    """
    said = counts[counts != 0]
    if layout.samples > 65535 or not said.size or (said == said[0]).all():
        return None
    usual = layout.samples if counts[0] == layout.samples else int(said[0])
    odd = int(np.flatnonzero((counts != usual) & (counts != 0))[0])
    return ReadError(
        f"{layout.source}: trace {odd + 1} has {counts[odd]} samples where the traces before it have "
        f"{usual}. Traces of unequal length are not read: re-export the line with one time window."
    )


def _with_texts(stream: BinaryIO, layout: Layout, size: int) -> Layout:
    """Skip the extended textual headers; -1 means as many as it takes to reach the end stanza."""
    count = file_field(layout.head, at.EXTENDED_TEXTS, layout.order)
    if count == -1:
        return replace(layout, first_trace=_after_end_stanza(stream, layout))
    first = at.FILE_HEADER_BYTES + count * at.TEXT_BYTES
    if count >= 0 and first <= size:
        return replace(layout, first_trace=first)
    if layout.revision[0] == 0:
        note = f"bytes 3505-3506 hold {count}, unassigned in revision 0; ignored"
        return replace(layout, notes=(*layout.notes, note))
    raise ReadError(
        f"{layout.source}: the header promises {count} extended textual headers, which cannot be in {size} "
        "bytes. " + _DAMAGED
    )


def _after_end_stanza(stream: BinaryIO, layout: Layout) -> int:
    for block in range(MOST_TEXT_BLOCKS):
        start = at.FILE_HEADER_BYTES + block * at.TEXT_BYTES
        raw = read_at(stream, start, at.TEXT_BYTES)
        if len(raw) < at.TEXT_BYTES:
            break
        if END_STANZA in decode_text(raw).lower():
            return start + at.TEXT_BYTES
    raise ReadError(
        f"{layout.source}: the header promises extended textual headers up to an end mark, which is "
        "missing. Re-export the file without extended textual headers."
    )


def _with_extra_headers(layout: Layout, size: int) -> Layout:
    """Take the additional trace headers and the offset of the first trace, both of revision 2."""
    extra = file_field(layout.head, at.EXTRA_TRACE_HEADERS, layout.order)
    first = file_field(layout.head, at.FIRST_TRACE_OFFSET, layout.order) or layout.first_trace
    if not layout.first_trace <= first <= size:
        raise ReadError(
            f"{layout.source}: the header puts the first trace at byte {first}, but the headers end at "
            f"{layout.first_trace} and the file at {size}. " + _DAMAGED
        )
    notes = layout.notes + ((_skipped(extra),) if extra else ())
    return replace(layout, extra_headers=extra, first_trace=first, notes=notes)


def _skipped(extra: int) -> str:
    return f"additional trace headers skipped ({extra} a trace)"


def _with_samples(stream: BinaryIO, layout: Layout) -> Layout:
    """Find the samples a trace: extended count (revision 2), binary header, or else first trace header."""
    count = file_field(layout.head, at.SAMPLES, layout.order)
    if layout.revision[0] >= 2:
        extended = file_field(layout.head, at.EXTENDED_SAMPLES, layout.order)
        if extended < 0:
            raise ReadError(
                f"{layout.source}: the header promises {extended} samples a trace (bytes 3269-3272). "
                + _DAMAGED
            )
        count = extended or count
    if count:
        return replace(layout, samples=count)
    count = _first_count(stream, layout)
    if not count:
        raise ReadError(
            f"{layout.source}: neither the file header nor the first trace header says how many samples a "
            "trace has. Re-export the file."
        )
    note = f"samples a trace taken from the trace headers ({count}): the file header holds 0"
    return replace(layout, samples=count, notes=(*layout.notes, note))


def _first_count(stream: BinaryIO, layout: Layout) -> int:
    """Give the samples that the first trace header states; 0 if it states none or is not there."""
    counts = trace_field(read_heads(stream, replace(layout, traces=1)), at.T_SAMPLES, layout.order)
    return int(counts[0]) if counts.size else 0


def _with_traces(stream: BinaryIO, layout: Layout, size: int) -> Layout:
    """Count the traces; refuse a file whose length is not a whole number of them."""
    end, promised = size, 0
    if layout.revision[0] >= 2:
        promised = file_field(layout.head, at.TRACE_COUNT, layout.order)
        trailers = file_field(layout.head, at.TRAILERS, layout.order)
        if trailers < 0 and not promised:
            raise ReadError(
                f"{layout.source}: the header says neither how many traces there are (bytes 3513-3520) nor how many "
                "records follow them (bytes 3529-3532). Re-export the file."
            )
        end = size - at.TEXT_BYTES * trailers
        if trailers < 0:
            end = layout.first_trace + promised * layout.trace_bytes
    if end == layout.first_trace:
        raise ReadError(f"{layout.source}: headers only, no traces ({size} bytes). Copy the file again.")
    room = max(min(end, size) - layout.first_trace, 0) // layout.trace_bytes
    if not layout.first_trace < end <= size or promised > room:
        raise ReadError(
            f"{layout.source}: the header promises {promised or 'some'} traces of {layout.samples} "
            f"samples, but there is room for {room} in {size} bytes. Copy the file again, or re-export it."
        )
    for fit in (layout, *_other_readings(stream, layout)):
        traces, rest = divmod(end - fit.first_trace, fit.trace_bytes)
        if traces and not rest:
            return replace(fit, traces=traces)
    raise _misfit(stream, replace(layout, traces=room), size)


def _other_readings(stream: BinaryIO, layout: Layout) -> list[Layout]:
    """Give readings that some writers need, tried where the headers as they stand do not fit the length."""
    others = []
    if layout.revision[0] == 0 and layout.first_trace > at.FILE_HEADER_BYTES:
        note = "bytes 3505-3506 are unassigned in revision 0 and do not fit the length of the file; ignored"
        others.append(replace(layout, first_trace=at.FILE_HEADER_BYTES, notes=(*layout.notes, note)))
    count = _first_count(stream, layout)
    if count not in (0, layout.samples):
        note = (
            f"the file header says {layout.samples} samples a trace, the trace headers {count}; only the "
            "latter fits the length of the file"
        )
        others.append(replace(layout, samples=count, notes=(*layout.notes, note)))
    wide = file_field(layout.head, at.EXTRA_TRACE_HEADERS_WIDE, layout.order)
    if layout.revision[0] >= 2 and 0 < wide <= 65535:
        others.append(replace(layout, extra_headers=wide, notes=(*layout.notes, _skipped(wide))))
    return others


def _misfit(stream: BinaryIO, layout: Layout, size: int) -> ReadError:
    """Explain a file that ends inside a trace: traces of unequal length, or cut short."""
    heads = read_heads(stream, replace(layout, traces=layout.traces + 1))
    counts = trace_field(heads, at.T_SAMPLES, layout.order)
    if counts.size and counts[0] == layout.samples:
        error = unequal_lengths(counts, layout)
        if error is not None:
            return error
    need = layout.first_trace + (layout.traces + 1) * layout.trace_bytes
    return ReadError(
        f"{layout.source}: cut short in trace {layout.traces + 1}: {size} bytes present, {need} needed to "
        f"end that trace; {layout.traces} whole traces of {layout.samples} samples are present. Copy the "
        "file again from the recorder, or re-export it."
    )
