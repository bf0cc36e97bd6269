"""The sample interval of a radar line: the unit of the header's number, decided by the window it would give.

The SEG-Y standard counts the interval in whole microseconds, for seismic work. Radar needs a fraction of a
nanosecond, so its writers put picoseconds, sometimes nanoseconds, into the same field. A radar window lasts
5 to 2000 ns; the three readings lie a factor 1000 apart, so at most one of them can be meant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError

WINDOW_NS = (5.0, 2000.0)
"""Shortest and longest plausible record of a radar trace, ns (judgement: 0.2 m of soil to 100 m of rock)."""
EXACT_WINDOW_NS = (0.5, 1e5)
"""The same where the header states the unit beyond doubt (revision 2): deep ice included."""

UNITS_NS = {"picoseconds": 1e-3, "nanoseconds": 1.0, "microseconds": 1e3}
_STATE_IT = "State sample_interval_ns in the site file."


@dataclass(frozen=True, slots=True)
class Interval:
    """The sample interval decided on.

    Attributes
    ----------
    ns : float
        Nanoseconds from sample to sample.
    unit_ns : float
        What one count of the header's integer field is worth, nanoseconds.
    note : str
        How it was decided and the window that follows, in words.
    """

    ns: float
    unit_ns: float
    note: str


def plausible_unit(count: int, samples: int) -> str | None:
    """Name the unit in which `count` a sample gives a radar window, or None; at most one can."""
    low, high = WINDOW_NS
    return next((unit for unit, ns in UNITS_NS.items() if low <= count * ns * samples <= high), None)


def choose_interval(
    samples: int,
    file_count: int,
    trace_counts: NDArray[np.int16],
    exact_us: float = 0.0,
    stated_ns: float | None = None,
) -> Interval:
    """Decide the sample interval.

    In this order: the interval the user states; the revision 2 number of microseconds, if there; the integer
    of the file header and of the trace headers. If both integers are positive and differ, the one that gives
    a plausible window is used, and neither if both do. Zero and negative numbers count as absent.

    Parameters
    ----------
    samples : int
        Samples a trace.
    file_count : int
        Binary header bytes 3217-3218.
    trace_counts : (trace,) int16
        Trace header bytes 117-118.
    exact_us : float
        Binary header bytes 3273-3280 of a revision 2 file, microseconds; 0 where absent.
    stated_ns : float or None
        What the user states, nanoseconds.

    Raises
    ------
    ReadError
        If no reading is plausible, or two readings contradict each other. The message does not name the file.
    """
    if stated_ns is not None:
        return _stated(samples, file_count, trace_counts, stated_ns)
    if math.isfinite(exact_us) and exact_us > 0:
        ns = exact_us * 1e3
        if not EXACT_WINDOW_NS[0] <= ns * samples <= EXACT_WINDOW_NS[1]:
            raise ReadError(
                f"the sample interval of {exact_us:g} microseconds (bytes 3273-3280) gives a window of "
                f"{ns * samples:g} ns, which no radar records. {_STATE_IT}"
            )
        return Interval(ns, 1e3, f"sample interval {ns:g} ns as bytes 3273-3280 say; {_window(ns, samples)}")

    trace_count = _common(trace_counts)
    counts = list(dict.fromkeys(count for count in (file_count, trace_count) if count > 0))
    if not counts:
        raise ReadError(
            f"no positive sample interval in the headers (file header {file_count}, first trace header "
            f"{int(trace_counts[0]) if trace_counts.size else 0}). {_STATE_IT}"
        )
    fits = [(count, unit) for count in counts if (unit := plausible_unit(count, samples))]
    if len(fits) > 1:
        raise ReadError(
            f"the file header gives a sample interval of {file_count}, the trace headers {trace_count}, "
            f"and both could be right. {_STATE_IT}"
        )
    if not fits:
        readings = ", ".join(f"{counts[0] * ns * samples:g} ns if in {unit}" for unit, ns in UNITS_NS.items())
        raise ReadError(
            f"the sample interval {counts[0]} with {samples} samples gives a window of {readings}; none "
            f"lies in {WINDOW_NS[0]:g} to {WINDOW_NS[1]:g} ns. {_STATE_IT}"
        )
    count, unit = fits[0]
    ns = count * UNITS_NS[unit]
    note = f"sample interval {count} in the header taken as {unit}; {_window(ns, samples)}"
    if len(counts) > 1:
        where, other = ("file", trace_count) if count == file_count else ("trace", file_count)
        note += f" ({where} header; the other header's {other} gives no plausible window)"
    return Interval(ns, UNITS_NS[unit], note)


def _window(ns: float, samples: int) -> str:
    return f"window {ns * samples:g} ns"


def _common(counts: NDArray[np.int16]) -> int:
    """Give the one positive count that all trace headers hold; 0 if none does."""
    positive = counts[counts > 0]
    if not positive.size:
        return 0
    odd = np.flatnonzero((counts > 0) & (counts != positive[0]))
    if odd.size:
        raise ReadError(
            f"trace {int(odd[0]) + 1} has a sample interval of {int(counts[odd[0]])} in its header where "
            f"the traces before it have {int(positive[0])}. {_STATE_IT}"
        )
    return int(positive[0])


def _stated(samples: int, file_count: int, trace_counts: NDArray[np.int16], stated_ns: float) -> Interval:
    if not (math.isfinite(stated_ns) and stated_ns > 0):
        raise ReadError(f"sample_interval_ns is {stated_ns}; it must be a positive number of nanoseconds.")
    count = file_count if file_count > 0 else int(trace_counts[0]) if trace_counts.size else 0
    unit_ns = 1e-3
    if count > 0:
        unit_ns = min(UNITS_NS.values(), key=lambda ns: abs(math.log(count * ns / stated_ns)))
    note = (
        f"sample interval {stated_ns:g} ns as stated, not the header's {count}; {_window(stated_ns, samples)}"
    )
    return Interval(float(stated_ns), unit_ns, note)
