"""From a matrix of numbers to a line: what text and array files have in common once they are read."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError
from gridmap.model import Float32, Float64, Int64, Line
from gridmap.read.line_info import LineInfo
from gridmap.read.sample_times import SampleTimes, choose_timing
from gridmap.read.segy_info import number_gaps

LATEST_S = 4102444800.0
"""2100-01-01 UTC, seconds since 1970-01-01: no trace is later."""


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


@contextmanager
def naming(source: str) -> Iterator[None]:
    """Put the name of the file before the words of a ReadError raised inside."""
    try:
        yield
    except ReadError as problem:
        raise ReadError(f"{source}: {problem}") from None


def line_of(matrix: Matrix, name: str, stated_ns: float | None) -> Line:
    """Decide the sample interval and make the line; ReadError names the file."""
    with naming(matrix.source):
        timing = choose_timing(matrix.times, matrix.traces.shape[1], stated_ns)
    number, time_s, xy, notes = _beside(matrix.beside)
    return Line(
        name=name,
        traces=matrix.traces,
        sample_interval_ns=timing.interval_ns,
        sample_start_ns=timing.start_ns,
        trace_number=number,
        time_s=time_s,
        header_xy=xy,
        source=matrix.source,
        notes=(*matrix.notes, timing.note, *notes),
    )


def info_of(matrix: Matrix, stated_ns: float | None) -> LineInfo:
    """Describe the line; an interval that cannot be decided is told in `trouble`."""
    number, time_s, xy, notes = _beside(matrix.beside)
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
        xy_bounds=bounds(xy),
        gaps=number_gaps(number),
        missing=None if number is None else int(number[-1] - number[0] + 1 - len(number)),
    )
    try:
        timing = choose_timing(matrix.times, info.samples, stated_ns)
    except ReadError as problem:
        return replace(info, notes=(*matrix.notes, *notes), trouble=f"{matrix.source}: {problem}")
    return replace(
        info,
        interval_ns=timing.interval_ns,
        window_ns=timing.interval_ns * info.samples,
        start_ns=timing.start_ns,
        notes=(*matrix.notes, timing.note, *notes),
    )


def bounds(xy: Float64 | None) -> tuple[float, float, float, float] | None:
    """Give least x, least y, greatest x, greatest y of co-ordinates (trace, 2)."""
    if xy is None:
        return None
    (x_low, y_low), (x_high, y_high) = xy.min(axis=0), xy.max(axis=0)
    return float(x_low), float(y_low), float(x_high), float(y_high)


def to_float32(cells: NDArray[Any], words: tuple[str, str] = ("trace", "sample")) -> Float32:
    """Give samples (trace, sample) as finite float32 in one block of memory, or say which is not finite.

    Parameters
    ----------
    cells : (trace, sample) numbers
        As stored.
    words : (str, str)
        What the two axes are called in a message.

    Raises
    ------
    ReadError
        Names the first sample that is NaN, infinite or beyond the range of float32, and how many there are; not
        the file.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        traces = np.ascontiguousarray(cells, dtype=np.float32)
    finite = np.isfinite(traces)
    if finite.all():
        return traces
    first, second = (int(i) for i in np.argwhere(~finite)[0])
    raise ReadError(
        f"{int((~finite).sum())} of {finite.size} samples are not finite numbers (NaN, infinite or beyond 3.4e38); the "
        f"first is in {words[0]} {first + 1}, {words[1]} {second + 1}. Re-export the line without gaps."
    )


def _beside(
    stored: dict[str, Float64],
) -> tuple[Int64 | None, Float64 | None, Float64 | None, tuple[str, ...]]:
    """Give trigger counts, times and places of the traces, each only where it can be true, and notes."""
    number, number_notes = _number(stored.get("number"))
    time_s, time_notes = _time(stored.get("utc_s"))
    xy, xy_notes = _xy(stored)
    return number, time_s, xy, (*number_notes, *time_notes, *xy_notes)


def _time(stored: Float64 | None) -> tuple[Float64 | None, tuple[str, ...]]:
    """Take times only from 1970 to 2100, as the SEG-Y reader does."""
    if stored is None:
        return None, ()
    odd = np.flatnonzero(~((stored >= 0) & (stored < LATEST_S)))
    if odd.size:
        return None, (
            f"trace times not used: {stored[odd[0]]:g} s at trace {odd[0] + 1} is not from 1970 to 2100",
        )
    return stored, ()


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
