"""What the trace headers say: trigger numbers, times, delay, co-ordinates; each only where it can be true."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError
from gridmap.model import Float64, Int64
from gridmap.read import segy_layout as at
from gridmap.read.segy_layout import ByteOrder, Heads, trace_field

SAME_CLOCK_S = 1.5
"""Milliseconds since midnight are believed if they lie this near the whole seconds of the same header."""
LONGEST_DELAY_NS = 2000.0
YEARS = (1970, 2100)


def trace_numbers(heads: Heads, order: ByteOrder) -> tuple[Int64 | None, tuple[str, ...]]:
    """Read the trigger count, bytes 13-16: used only if it increases from every trace to the next.

    Returns
    -------
    (trace,) int64 or None, notes
    """
    number = trace_field(heads, at.T_TRACE_NUMBER, order).astype(np.int64)
    if not number.any():
        return None, ()
    back = np.flatnonzero(np.diff(number) <= 0)
    if back.size:
        trace = int(back[0])
        return None, (
            f"trace numbers (bytes 13-16) not used: {number[trace + 1]} follows {number[trace]} at trace "
            f"{trace + 2}",
        )
    return number, ()


def trace_times(heads: Heads, order: ByteOrder) -> tuple[Float64 | None, tuple[str, ...]]:
    """Read when each trace was taken: bytes 157-166, refined by milliseconds since midnight in bytes 233-236.

    The standard has whole seconds. Milliseconds since midnight in the unassigned bytes 233-236 (int32) are
    used where they agree with hour, minute and second of every trace within 1.5 s, over midnight too.

    Returns
    -------
    (trace,) float64 seconds since 1970-01-01 or None, notes
    """
    year, day, hour, minute, second = (trace_field(heads, f, order).astype(np.int64) for f in at.T_CLOCK)
    if not (year.any() or day.any() or hour.any() or minute.any() or second.any()):
        return None, ()
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    good = (
        (year >= YEARS[0])
        & (year <= YEARS[1])
        & (day >= 1)
        & (day <= 365 + leap)
        & (hour >= 0)
        & (hour <= 23)
        & (minute >= 0)
        & (minute <= 59)
        & (second >= 0)
        & (second <= 60)
    )
    if not good.all():
        t = int(np.flatnonzero(~good)[0])
        return None, (
            f"trace times (bytes 157-166) not used: trace {t + 1} has year {year[t]}, day {day[t]}, "
            f"{hour[t]}:{minute[t]}:{second[t]}",
        )
    days = (year - 1970).astype("datetime64[Y]").astype("datetime64[D]").astype(np.int64) + day - 1
    of_day = hour * 3600.0 + minute * 60.0 + second
    time = days * 86400.0 + of_day
    notes: tuple[str, ...] = ()
    fine = trace_field(heads, at.T_MILLISECONDS, order) / 1000.0
    off = (fine - of_day + 43200.0) % 86400.0 - 43200.0
    if fine.any() and (fine >= 0).all() and (fine < 86400).all() and (np.abs(off) <= SAME_CLOCK_S).all():
        time = time + off
        notes = ("trace times in milliseconds from bytes 233-236",)
    basis = int(trace_field(heads, at.T_TIME_BASIS, order)[0])
    if basis in (1, 3):
        notes += ("trace times are not UTC by their time basis code (bytes 167-168)",)
    return np.asarray(time, dtype=np.float64), notes


def delay_ns(heads: Heads, order: ByteOrder, unit_ns: float, revision: int) -> tuple[float, tuple[str, ...]]:
    """Read the delay recording time, bytes 109-110, with the scalar of bytes 215-216 (revision 1 on).

    The standard counts it in milliseconds beside an interval in microseconds; a writer that puts picoseconds
    for microseconds puts nanoseconds for milliseconds, so one count is 1000 times the unit of the interval.

    Parameters
    ----------
    heads : (60, trace) uint32
        Trace headers.
    order : ">" or "<"
        Their byte order.
    unit_ns : float
        What one count of the sample interval is worth, nanoseconds.
    revision : int
        Major revision of the file.

    Raises
    ------
    ReadError
        If plausible delays differ from trace to trace; the message does not name the file.
    """
    delay = trace_field(heads, at.T_DELAY, order).astype(np.float64)
    if not delay.any():
        return 0.0, ()
    if revision >= 1:
        delay = _scaled(delay, trace_field(heads, at.T_TIME_SCALAR, order))
    delay = delay * 1000.0 * unit_ns
    if np.abs(delay).max() > LONGEST_DELAY_NS:
        return 0.0, (
            f"delay of {delay[np.abs(delay).argmax()]:g} ns (bytes 109-110) is not plausible; ignored",
        )
    odd = np.flatnonzero(delay != delay[0])
    if odd.size:
        raise ReadError(
            f"trace {int(odd[0]) + 1} starts at {delay[odd[0]]:g} ns (bytes 109-110) where the traces "
            f"before it start at {delay[0]:g} ns. Re-export the line with one delay."
        )
    return float(delay[0]), (f"delay {delay[0]:g} ns (bytes 109-110)",)


def header_xy(heads: Heads, order: ByteOrder) -> tuple[Float64 | None, tuple[str, ...]]:
    """Read co-ordinates with their scalar (bytes 71-72): of the mid-point, else from source and group.

    The ensemble pair (bytes 181-188) is the mid-point; else the mean of source (73-80) and group (81-88), or
    whichever of the two is held. The units code (bytes 89-90) is told in a note where it is not length.

    Returns
    -------
    (trace, 2) float64 or None where all are zero, notes
    """
    pairs = (
        ("mid-point co-ordinates (bytes 181-188)", at.T_ENSEMBLE_XY),
        ("source co-ordinates (bytes 73-80)", at.T_SOURCE_XY),
        ("group co-ordinates (bytes 81-88)", at.T_GROUP_XY),
    )
    stored = {words: np.stack([trace_field(heads, f, order) for f in fields]) for words, fields in pairs}
    held = {words: pair for words, pair in stored.items() if pair.any()}
    if not held:
        return None, ()
    words, *others = held
    whole = held[words].astype(np.float64)
    if words == pairs[1][0] and others:
        words = "mean of source and group co-ordinates (bytes 73-88)"
        whole = (whole + held[others[0]]) / 2.0
    scalar = trace_field(heads, at.T_XY_SCALAR, order)
    xy = np.stack([_scaled(one, scalar) for one in whole], axis=1)
    notes = [words]
    none = int((~xy.any(axis=1)).sum())
    if none:
        notes.append(f"{none} of {len(xy)} trace headers hold no co-ordinates (0, 0)")
    units = {2: "seconds of arc", 3: "decimal degrees", 4: "degrees, minutes, seconds"}.get(
        int(trace_field(heads, at.T_XY_UNITS, order)[0])
    )
    if units:
        notes.append(f"header co-ordinates are in {units}")
    return xy, tuple(notes)


def _scaled(values: Float64, scalar: NDArray[np.int16]) -> Float64:
    """Apply a header scalar: positive multiplies, negative divides, 0 counts as 1 (SEG-Y revision 1)."""
    wide = scalar.astype(np.float64)
    return np.asarray(
        np.where(wide > 0, values * wide, np.where(wide < 0, values / np.where(wide == 0, 1, -wide), values))
    )
