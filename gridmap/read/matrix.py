"""From a matrix of numbers to a line: what text and array files have in common once they are read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError
from gridmap.model import Float32, Float64, Int64, Line
from gridmap.read.line_info import LineInfo
from gridmap.read.sample_times import SampleTimes, choose_timing
from gridmap.read.segy_info import number_gaps


@dataclass(frozen=True, slots=True)
class Matrix:
    """Traces as a file without a standard header holds them; its sample interval is still open.

    Attributes
    ----------
    source, kind, sample_format : str
        The file, its format and how it stores a sample, in words.
    traces : (trace, sample) float32
        Finite.
    times : SampleTimes or None
        What the file says of the times of its samples.
    beside : dict
        What each trace has: any of "x", "y", "number", "utc_s", each (trace,) float64.
    notes : tuple of str
        What was assumed.
    """

    source: str
    kind: str
    sample_format: str
    traces: Float32
    times: SampleTimes | None
    beside: dict[str, Float64]
    notes: tuple[str, ...]


def line_of(matrix: Matrix, name: str, stated_ns: float | None) -> Line:
    """Decide the sample interval and make the line; ReadError names the file."""
    try:
        timing = choose_timing(matrix.times, matrix.traces.shape[1], stated_ns)
    except ReadError as problem:
        raise ReadError(f"{matrix.source}: {problem}") from None
    number, number_notes = _number(matrix.beside.get("number"))
    xy, xy_notes = _xy(matrix.beside)
    return Line(
        name=name,
        traces=matrix.traces,
        sample_interval_ns=timing.interval_ns,
        sample_start_ns=timing.start_ns,
        trace_number=number,
        time_s=matrix.beside.get("utc_s"),
        header_xy=xy,
        source=matrix.source,
        notes=(*matrix.notes, timing.note, *number_notes, *xy_notes),
    )


def info_of(matrix: Matrix, stated_ns: float | None) -> LineInfo:
    """Describe the line; an interval that cannot be decided is told in `trouble`."""
    number, number_notes = _number(matrix.beside.get("number"))
    xy, xy_notes = _xy(matrix.beside)
    time_s = matrix.beside.get("utc_s")
    info = LineInfo(
        source=matrix.source,
        kind=matrix.kind,
        byte_order="",
        sample_format=matrix.sample_format,
        traces=matrix.traces.shape[0],
        samples=matrix.traces.shape[1],
        interval_ns=None,
        window_ns=None,
        first_time_s=None if time_s is None else float(time_s.min()),
        last_time_s=None if time_s is None else float(time_s.max()),
        xy_bounds=None if xy is None else (*map(float, xy.min(axis=0)), *map(float, xy.max(axis=0))),  # type: ignore[arg-type]
        gaps=number_gaps(number),
        missing=None if number is None else int(number[-1] - number[0] + 1 - len(number)),
    )
    notes = (*matrix.notes, *number_notes, *xy_notes)
    try:
        timing = choose_timing(matrix.times, info.samples, stated_ns)
    except ReadError as problem:
        return replace(info, notes=notes, trouble=f"{matrix.source}: {problem}")
    return replace(
        info,
        interval_ns=timing.interval_ns,
        window_ns=timing.interval_ns * info.samples,
        start_ns=timing.start_ns,
        notes=(*matrix.notes, timing.note, *number_notes, *xy_notes),
    )


def to_float32(cells: NDArray[Any], source: str) -> Float32:
    """Give samples (trace, sample) as finite float32 in one block of memory, or say which is not finite.

    Raises
    ------
    ReadError
        Names the first sample that is NaN, infinite or beyond the range of float32, and how many there are.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        traces = np.ascontiguousarray(cells, dtype=np.float32)
    finite = np.isfinite(traces)
    if finite.all():
        return traces
    each = (~finite).sum(axis=1)
    trace = int(np.flatnonzero(each)[0])
    sample = int(np.flatnonzero(~finite[trace])[0])
    raise ReadError(
        f"{source}: {int(each.sum())} samples in {int((each > 0).sum())} of {len(traces)} traces are not finite "
        f"numbers (NaN, infinite or beyond 3.4e38); the first is sample {sample + 1} of trace {trace + 1}. "
        "Re-export the line without gaps."
    )


def _number(stored: Float64 | None) -> tuple[Int64 | None, tuple[str, ...]]:
    """Take trigger counts only where they are whole and increase, as the SEG-Y reader does."""
    if stored is None:
        return None, ()
    odd = np.flatnonzero((stored != np.rint(stored)) | (np.abs(stored) > 2**53))
    if odd.size:
        return None, (f"trace numbers not used: {stored[odd[0]]:g} at trace {odd[0] + 1} is no whole number",)
    number = stored.astype(np.int64)
    back = np.flatnonzero(np.diff(number) <= 0)
    if back.size:
        trace = int(back[0])
        return None, (
            f"trace numbers not used: {number[trace + 1]} follows {number[trace]} at trace {trace + 2}",
        )
    return number, ()


def _xy(beside: dict[str, Float64]) -> tuple[Float64 | None, tuple[str, ...]]:
    if "x" in beside and "y" in beside:
        return np.stack([beside["x"], beside["y"]], axis=1), ()
    alone = [key for key in ("x", "y") if key in beside]
    return None, (f"co-ordinates not used: {alone[0]} stands alone",) if alone else ()
