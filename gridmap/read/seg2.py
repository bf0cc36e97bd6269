"""Read a SEG-2 line into a `Line`: `seg2_blocks` finds it, `seg2_samples` and `seg2_strings` make sense of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float32, Line
from gridmap.read.line_info import LineInfo
from gridmap.read.matrix import bounds, naming, to_float32
from gridmap.read.opening import open_file
from gridmap.read.seg2_blocks import FORMAT_WORDS, Blocks, read_blocks
from gridmap.read.seg2_samples import decode
from gridmap.read.seg2_strings import acquired, choose_times, factors, locations, times_s, trace_counts
from gridmap.read.segy_info import number_gaps
from gridmap.read.segy_layout import ORDER_WORDS

_TEXT_KEYS = ("CLIENT", "COMPANY", "JOB_ID", "LINE_ID", "OBSERVER", "INSTRUMENT", "NOTE")


def read_seg2(path: Path | str, *, name: str | None = None, sample_interval_ns: float | None = None) -> Line:
    """Read one SEG-2 file as one line.

    Parameters
    ----------
    path : Path
        The file. Either byte order, data codes 1 to 5.
    name : str or None
        The line's name; None takes the file's name without suffix.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules the file.

    Returns
    -------
    Line
        Traces (trace, sample) float32 in the order of the trace pointers, times DESCALING_FACTOR where every
        trace states one; `notes` say what was assumed.

    Raises
    ------
    ReadError
        If the file is not what its blocks say, holds traces of unequal length, gives no plausible sample
        interval, or holds a sample that is not a finite number.
    """
    path = Path(path)
    data, blocks = _read(path)
    strings = [trace.strings for trace in blocks.traces]
    with naming(path.name):
        samples = _equal_samples(blocks)
        timing = choose_times(strings, samples, sample_interval_ns)
        traces, scale_notes = _samples(data, blocks, samples)
    number, number_notes = trace_counts(strings)
    time_s, time_notes = times_s(blocks.strings, strings)
    xy, xy_notes = locations(blocks.strings, strings)
    return Line(
        name=name or path.stem,
        traces=traces,
        sample_interval_ns=timing.interval_ns,
        sample_start_ns=timing.start_ns,
        trace_number=number,
        time_s=time_s,
        header_xy=xy,
        source=path.name,
        notes=(*_revision(blocks), timing.note, *scale_notes, *number_notes, *time_notes, *xy_notes),
    )


def describe_seg2(path: Path | str, *, sample_interval_ns: float | None = None) -> LineInfo:
    """Describe one SEG-2 file; what keeps it from being read as a line is told in `trouble`."""
    path = Path(path)
    _, blocks = _read(path)
    strings = [trace.strings for trace in blocks.traces]
    number, number_notes = trace_counts(strings)
    time_s, time_notes = times_s(blocks.strings, strings)
    xy, xy_notes = locations(blocks.strings, strings)
    notes = (*_revision(blocks), *acquired(blocks.strings), *number_notes, *time_notes, *xy_notes)
    interval_ns = window_ns = None
    start_ns, trouble = 0.0, ""
    samples = blocks.traces[0].samples
    try:
        timing = choose_times(strings, _equal_samples(blocks), sample_interval_ns)
        interval_ns, start_ns, window_ns = timing.interval_ns, timing.start_ns, timing.interval_ns * samples
        notes = (notes[0], timing.note, *notes[1:]) if _revision(blocks) else (timing.note, *notes)
    except ReadError as problem:
        trouble = f"{path.name}: {problem}"
    return LineInfo(
        source=path.name,
        kind="SEG-2",
        byte_order=ORDER_WORDS[blocks.order],
        sample_format=", ".join(FORMAT_WORDS[code] for code in sorted({t.code for t in blocks.traces})),
        traces=len(blocks.traces),
        samples=samples,
        interval_ns=interval_ns,
        window_ns=window_ns,
        start_ns=start_ns,
        first_time_s=None if time_s is None else float(time_s.min()),
        last_time_s=None if time_s is None else float(time_s.max()),
        xy_bounds=bounds(xy),
        gaps=number_gaps(number),
        missing=None if number is None else int(number[-1] - number[0] + 1 - len(number)),
        text=_text(blocks),
        notes=notes,
        trouble=trouble,
    )


def _read(path: Path) -> tuple[bytes, Blocks]:
    with open_file(path) as stream:
        data = stream.read()
    return data, read_blocks(data, path.name)


def _equal_samples(blocks: Blocks) -> int:
    """Give the samples that every trace has, or raise ReadError without the file's name."""
    usual = blocks.traces[0].samples
    for number, trace in enumerate(blocks.traces, 1):
        if trace.samples != usual:
            raise ReadError(
                f"trace {number} has {trace.samples} samples where the traces before it have "
                f"{usual}. Traces of unequal length are not read: re-export the line with one time window."
            )
    if usual == 0:
        raise ReadError("the traces have no samples. Copy the file again from the recorder.")
    return usual


def _samples(data: bytes, blocks: Blocks, samples: int) -> tuple[Float32, tuple[str, ...]]:
    """Decode all traces to (trace, sample) float32, descaled where every trace says how."""
    factor, notes = factors([trace.strings for trace in blocks.traces])
    out = np.empty((len(blocks.traces), samples), np.float32)
    view = memoryview(data)
    with np.errstate(over="ignore", invalid="ignore"):
        for row, (trace, one) in enumerate(zip(blocks.traces, factor, strict=True)):
            stored = decode(
                view[trace.first_byte : trace.first_byte + trace.bytes], trace.code, samples, blocks.order
            )
            out[row] = stored if one == 1.0 else stored * np.float64(one)
    return to_float32(out), notes


def _revision(blocks: Blocks) -> tuple[str, ...]:
    return () if blocks.revision == 1 else (f"revision {blocks.revision} of SEG-2 read as revision 1",)


def _text(blocks: Blocks) -> tuple[str, ...]:
    """Give the strings that say whose line this is, safe to print."""
    found = []
    for key in _TEXT_KEYS:
        value = blocks.strings.get(key) or blocks.traces[0].strings.get(key)
        if value:
            clean = " ".join("".join(c if c.isprintable() else " " for c in value).split())
            found.append(f"{key} {clean}"[:80])
    return tuple(found)
