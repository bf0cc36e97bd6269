"""How a file without a standard header is laid out, as its user states it; what is not stated is guessed.

The site file fills these records and the readers use them. Neither room knows the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

TracesIn = Literal["rows", "columns"]
TimeUnit = Literal["ps", "ns", "us", "ms", "s"]
BeforeSamples = Literal["x", "y", "number", "utc_s", "skip"]


@dataclass(frozen=True, slots=True)
class TextLayout:
    """A matrix of numbers in delimited text. None everywhere means: guess, and say so in `Line.notes`.

    Attributes
    ----------
    delimiter : "comma", "semicolon", "tab", "space" or None
        Between the cells of a row; "space" is any run of white space.
    decimal : "." or "," or None
        The decimal mark.
    encoding : str or None
        Character encoding by its Python name. None: by byte order mark, else UTF-8, else Latin-1.
    header_rows : int or None
        Rows above the numbers, comments and blank rows included; the last of them may name the columns.
    traces_in : "rows", "columns" or None
        Whether a row or a column of the file is a trace.
    before_samples : tuple of str or None
        What stands before the first sample of each trace, in order: "x", "y" (co-ordinates), "number"
        (trigger count), "utc_s" (seconds since 1970), "skip". For traces in rows these are the first columns
        of the file, for traces in columns its first rows. Empty: the samples begin at once.
    sample_times : bool or None
        Whether the first row (traces in rows) or the first column (traces in columns) of numbers holds the
        times of the samples. Where it does, and `before_samples` is not empty, its cells there mean nothing.
    time_unit : "ps", "ns", "us", "ms", "s" or None
        Unit of the sample times.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules the sample times.
    """

    delimiter: Literal["comma", "semicolon", "tab", "space"] | None = None
    decimal: Literal[".", ","] | None = None
    encoding: str | None = None
    header_rows: int | None = None
    traces_in: TracesIn | None = None
    before_samples: tuple[BeforeSamples, ...] | None = None
    sample_times: bool | None = None
    time_unit: TimeUnit | None = None
    sample_interval_ns: float | None = None


@dataclass(frozen=True, slots=True)
class ArrayLayout:
    """Arrays by name in a NumPy or NetCDF file. None means: guess, and say so in `Line.notes`.

    Attributes
    ----------
    amplitude : str or None
        Name of the two-dimensional array of samples; None: the only one there is.
    traces_in : "rows", "columns" or None
        Whether the first ("rows") or the second ("columns") axis counts the traces.
    time : str or None
        Name of the sample times; where it is a single number, that is the sample interval.
    time_unit : "ps", "ns", "us", "ms", "s" or None
        Their unit; None: the units attribute, else the end of the name, such as `time_ns`.
    x, y, number, utc_s : str or None
        Names of what each trace has: co-ordinates, trigger count, seconds since 1970.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules the sample times.
    """

    amplitude: str | None = None
    traces_in: TracesIn | None = None
    time: str | None = None
    time_unit: TimeUnit | None = None
    x: str | None = None
    y: str | None = None
    number: str | None = None
    utc_s: str | None = None
    sample_interval_ns: float | None = None


@dataclass(frozen=True, slots=True)
class Layouts:
    """The layouts of one survey: one for its text files, one for its array files."""

    text: TextLayout = field(default_factory=TextLayout)
    arrays: ArrayLayout = field(default_factory=ArrayLayout)
