"""What the strings of a SEG-2 file mean: interval, delay, factors, counts, dates, places, where they can be true.

Keywords and units: Pullan (1990), appendix. Times are seconds, as text.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64, Int64
from gridmap.read.sample_times import NEED_INTERVAL, NS_PER, Timing, plausible, stated_interval
from gridmap.read.seg2_blocks import Strings
from gridmap.read.segy_interval import EXACT_WINDOW_NS
from gridmap.read.segy_traces import LONGEST_DELAY_NS, YEARS

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eEdD][+-]?\d{1,4})?", re.ASCII)
_UNIT_WORDS = {
    "ps": "picoseconds",
    "ns": "nanoseconds",
    "us": "microseconds",
    "ms": "milliseconds",
    "s": "seconds",
}


def number_in(text: str | None) -> float | None:
    """Read the first number of a string; None where there is none, or no finite one."""
    match = _NUMBER.match(text.strip()[:80]) if text else None
    if match is None:
        return None
    value = float(match[0].lower().replace("d", "e"))
    return value if math.isfinite(value) else None


def choose_times(traces: Sequence[Strings], samples: int, stated_ns: float | None) -> Timing:
    """Decide sample interval and delay: seconds as the standard says, if that can be a radar window.

    Some writers put another unit there, or scale all times by a million for programs made for seismic work,
    as in SEG-Y. Where seconds cannot be, the one unit that gives 5 to 2000 ns is used, for the delay too.

    Parameters
    ----------
    traces : sequence of Strings
        One a trace.
    samples : int
        Samples a trace.
    stated_ns : float or None
        The interval stated by the user, nanoseconds.

    Raises
    ------
    ReadError
        If there is no usable interval, or intervals or delays differ. The message does not name the file.
    """
    held = _common(traces, "SAMPLE_INTERVAL")
    interval = held if held is not None and held > 0 else None
    if stated_ns is not None:
        ns = stated_interval(stated_ns)
        unit = "s"
        if interval is not None:
            unit = min(NS_PER, key=lambda key: abs(math.log(interval) + math.log(NS_PER[key] / ns)))
        note = f"sample interval {ns:g} ns as stated; window {ns * samples:g} ns"
        return _with_delay(traces, ns, unit, note)
    if interval is None:
        what = "no SAMPLE_INTERVAL in" if held is None else f"SAMPLE_INTERVAL is {held:g} in"
        raise ReadError(f"{what} the strings of the traces. {NEED_INTERVAL}")
    low, high = EXACT_WINDOW_NS
    if low <= interval * 1e9 * samples <= high:
        ns = interval * 1e9
        return _with_delay(traces, ns, "s", f"sample interval {ns:g} ns; window {ns * samples:g} ns")
    unit_found = plausible(interval, samples)
    if unit_found is None:
        raise ReadError(
            f"SAMPLE_INTERVAL {interval:g} with {samples} samples gives a window of {interval * samples:g} "
            f"s, and no other unit gives a radar window either. {NEED_INTERVAL}"
        )
    ns = interval * NS_PER[unit_found]
    note = (
        f"SAMPLE_INTERVAL {interval:g} cannot be seconds, taken as {_UNIT_WORDS[unit_found]}; "
        f"window {ns * samples:g} ns"
    )
    return _with_delay(traces, ns, unit_found, note)


def _with_delay(traces: Sequence[Strings], interval_ns: float, unit: str, note: str) -> Timing:
    delay = _common(traces, "DELAY")
    if not delay:
        return Timing(interval_ns, 0.0, note)
    start_ns = delay * NS_PER[unit]
    if abs(start_ns) > LONGEST_DELAY_NS:
        return Timing(interval_ns, 0.0, f"{note}; DELAY of {start_ns:g} ns is not plausible; ignored")
    return Timing(interval_ns, start_ns, f"{note}; first sample at {start_ns:g} ns (DELAY)")


def _common(traces: Sequence[Strings], key: str) -> float | None:
    """Give the one number that the traces hold under a key; None if none does; ReadError where two differ."""
    usual: float | None = None
    for trace, strings in enumerate(traces, 1):
        value = number_in(strings.get(key))
        if value is None:
            continue
        if usual is not None and value != usual:
            raise ReadError(
                f"trace {trace} has {key} {value:g} where the traces before it have {usual:g}. Re-export the "
                "line with one time window."
            )
        usual = value
    return usual


def factors(traces: Sequence[Strings]) -> tuple[Float64, tuple[str, ...]]:
    """Read DESCALING_FACTOR, which turns stored samples into millivolts; 1 unless every trace states one."""
    held = [number_in(strings.get("DESCALING_FACTOR")) for strings in traces]
    ones = np.ones(len(traces))
    if not any(held):
        return ones, ()
    odd = next((i for i, value in enumerate(held, 1) if not value or value <= 0), None)
    if odd is not None:
        return ones, (f"DESCALING_FACTOR not applied: trace {odd} states none that is positive",)
    factor = np.array(held, np.float64)
    low, high = factor.min(), factor.max()
    return factor, (
        f"samples multiplied by DESCALING_FACTOR, {low:g}" + (f" to {high:g}" if high > low else ""),
    )


def trace_counts(traces: Sequence[Strings]) -> tuple[Int64 | None, tuple[str, ...]]:
    """Read SHOT_SEQUENCE_NUMBER, else CHANNEL_NUMBER, as trigger count: only where it increases from trace to trace."""
    notes: list[str] = []
    for key in ("SHOT_SEQUENCE_NUMBER", "CHANNEL_NUMBER"):
        held = [number_in(strings.get(key)) for strings in traces]
        if all(value is None for value in held):
            continue
        whole = [value for value in held if value is not None and value == int(value) and abs(value) < 2**53]
        number = np.array(whole, np.int64)
        if len(whole) == len(traces) and (np.diff(number) > 0).all():
            return number, (f"trace numbers from {key}",)
        if len(traces) > 1:
            notes.append(f"{key} not used as trace number: it does not increase from every trace to the next")
    return None, tuple(notes)


def moment_s(date: str | None, time: str | None) -> float | None:
    """Read ACQUISITION_DATE (such as 07/JAN/2013) and ACQUISITION_TIME (10:30:41) to seconds since 1970-01-01."""
    day = re.match(
        r"(\d{1,2})[\s,./-]+([A-Za-z]{3})[A-Za-z]*[\s,./-]+(\d{4})(?!\d)", (date or "").strip(), re.ASCII
    )
    clock = re.match(r"(\d{1,2}):(\d{1,2})(?::(\d{1,2})(\.\d{1,9})?)?(?!\d)", (time or "").strip(), re.ASCII)
    if day is None or clock is None or day[2].lower() not in _MONTHS:
        return None
    try:
        whole = datetime(
            int(day[3]), _MONTHS.index(day[2].lower()) + 1, int(day[1]), int(clock[1]), int(clock[2]),
            int(clock[3] or 0), tzinfo=UTC,
        )  # fmt: skip
    except ValueError:
        return None
    if not YEARS[0] <= whole.year <= YEARS[1]:
        return None
    return whole.timestamp() + float(clock[4] or 0)


def acquired(file: Strings) -> tuple[str, ...]:
    """Say in a note when the file was acquired, where its date can be read."""
    when = moment_s(file.get("ACQUISITION_DATE"), file.get("ACQUISITION_TIME"))
    if when is None:
        return ()
    return (f"acquired {datetime.fromtimestamp(when, UTC):%Y-%m-%d %H:%M:%S} by the recorder's clock",)


def times_s(file: Strings, traces: Sequence[Strings]) -> tuple[Float64 | None, tuple[str, ...]]:
    """Read when each trace was taken: only where every trace has its own ACQUISITION_TIME.

    One time for the file says nothing of single traces. The standard does not say the time zone.
    """
    clocks = [strings.get("ACQUISITION_TIME") for strings in traces]
    if not all(clocks):
        return None, ()
    date = file.get("ACQUISITION_DATE")
    found = [
        moment_s(strings.get("ACQUISITION_DATE", date), clock)
        for strings, clock in zip(traces, clocks, strict=True)
    ]
    for trace, one in enumerate(found, 1):
        if one is None:
            return None, (f"trace times not used: trace {trace} has no date and time that can be read",)
    return np.array(found, np.float64), ("trace times from ACQUISITION_TIME, taken as UTC",)


def locations(file: Strings, traces: Sequence[Strings]) -> tuple[Float64 | None, tuple[str, ...]]:
    """Read places: the mean of SOURCE_LOCATION and RECEIVER_LOCATION, or whichever of the two every trace has.

    A location is one to three numbers, x y z; one number alone is no place on a plan.

    Returns
    -------
    (trace, 2) float64 or None, notes
    """
    found: list[Float64] = []
    used: list[str] = []
    for key in ("SOURCE_LOCATION", "RECEIVER_LOCATION"):
        rows = [_numbers(strings.get(key, "")) for strings in traces]
        if all(len(row) >= 2 for row in rows):
            found.append(np.array([row[:2] for row in rows], np.float64))
            used.append(key)
        elif any(rows):
            short = next(i for i, row in enumerate(rows, 1) if len(row) < 2)
            return None, (f"co-ordinates not used: trace {short} has no x and y in {key}",)
    if not found or not any(pair.any() for pair in found):
        return None, ()
    units = file.get("UNITS", "").strip().lower()
    words = f"co-ordinates from {' and '.join(used)}" + (", mean of the two" if len(used) == 2 else "")
    if units not in ("", "meters", "metres", "none"):
        words += f"; header co-ordinates are in {''.join(c for c in units if c.isalnum())[:20]}"
    return np.mean(found, axis=0), (words,)


def _numbers(text: str) -> list[float]:
    values = [number_in(word) for word in text.split()[:3]]
    return [value for value in values if value is not None]
