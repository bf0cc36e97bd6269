"""One walked line: as read from a file, and placed on the ground."""

from __future__ import annotations

from dataclasses import dataclass

from gridmap.model.array_file import Held
from gridmap.model.arrays import Bool, Float32, Float64, Int64


@dataclass(frozen=True, slots=True)
class Line:
    """A line as its file holds it, in the order walked.

    Attributes
    ----------
    name : str
        The line's name; unique in a survey.
    traces : (trace, sample) float32
        Amplitude as stored, unit unknown.
    sample_interval_ns : float
        Time from one sample to the next, nanoseconds.
    sample_start_ns : float
        Time of the first sample on the recorder's clock (the delay recording time), nanoseconds.
    trace_number : (trace,) int64 or None
        Trigger count of each trace in the order walked; a missing number is a dropped trace.
    time_s : (trace,) float64 or None
        UTC seconds since 1970-01-01 at which the trace was taken.
    header_xy : (trace, 2) float64 or None
        Co-ordinates as the trace headers hold them, scalar applied.
    source : str
        The file, as a message would name it.
    notes : tuple of str
        What the reader assumed, in words, such as the unit of the sample interval.
    """

    name: str
    traces: Float32
    sample_interval_ns: float
    sample_start_ns: float = 0.0
    trace_number: Int64 | None = None
    time_s: Float64 | None = None
    header_xy: Float64 | None = None
    source: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedLine:
    """A line whose every trace has a place.

    Attributes
    ----------
    line : Line
        The traces, in the order walked.
    xy_m : (trace, 2) float64
        Local grid position of the antenna mid-point, metres.
    along_m : (trace,) float64
        Distance from the first trace along the line, metres, strictly increasing.
    usable : (trace,) bool or None
        False where the place is not known well enough to map the trace; None: all are.
    elevation_m : (trace,) float64 or None
        Height of the ground below the antenna, metres, NaN where not known; None: not known at all.
    """

    line: Line
    xy_m: Float64
    along_m: Float64
    usable: Bool | None = None
    elevation_m: Float64 | None = None


@dataclass(frozen=True)
class CleanLine:
    """A placed line after conditioning, on the time axis that all lines share.

    Attributes
    ----------
    name : str
        The line's name.
    xy_m : (trace, 2) float64
        Local grid position of the antenna mid-point, metres.
    along_m : (trace,) float64
        Distance along the line, metres, strictly increasing.
    traces : (trace, sample) float32
        Sample 0 is time zero. Unusable traces are zero. Given as an array, or as a `ArrayFile` that is mapped anew
        at every use and is not to be written to.
    usable : (trace,) bool
        False for dead traces and bursts.
    time_zero_ns : float
        Time zero after the first recorded sample, nanoseconds.
    repaired : (trace,) bool or None
        True where a trace, or some samples of it, were filled in from what lies beside; None: nowhere.
    mended : tuple of str
        What was repaired, in words with counts.
    pulse_sign : int
        1 where an echo of reflection coefficient +1 stands upright, -1 where the recorder turned it over, told by the
        direct wave; 0: not known.
    """

    name: str
    xy_m: Float64
    along_m: Float64
    traces: Float32
    usable: Bool
    time_zero_ns: float
    repaired: Bool | None = None
    mended: tuple[str, ...] = ()
    pulse_sign: int = 0


CleanLine.traces = Held("traces")  # type: ignore[assignment]
