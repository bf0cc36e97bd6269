"""Sample times given as numbers: their unit, their interval, and whether they are even.

A radar window lasts 5 to 2000 ns and the units lie a factor 1000 apart, so that at most one unit can be
meant: the rule of `segy_interval`, for numbers that need not be whole.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float64
from gridmap.read.segy_interval import EXACT_WINDOW_NS, WINDOW_NS

NS_PER = {"ps": 1e-3, "ns": 1.0, "us": 1e3, "ms": 1e6, "s": 1e9}
"""Nanoseconds in one of each unit."""
UNEVEN = 0.3
"""Share of the interval by which a sample time may be off: rounding in text passes, a missing sample does not."""
NEED_INTERVAL = "State sample_interval_ns in the site file."


@dataclass(frozen=True, slots=True)
class SampleTimes:
    """Times of samples, or one interval, as a file holds them.

    Attributes
    ----------
    values : (sample,) float64
        The times; or the interval alone, one number.
    unit : str or None
        A key of `NS_PER`, where the file or its user states it.
    where : str
        Where they stand, for messages.
    is_interval : bool
        Whether `values` is the interval.
    name : str
        Name of the array that holds them, or "".
    """

    values: Float64
    unit: str | None
    where: str
    is_interval: bool = False
    name: str = ""


@dataclass(frozen=True, slots=True)
class Timing:
    """Sample interval and time of the first sample, nanoseconds, and how they were decided."""

    interval_ns: float
    start_ns: float
    note: str


def plausible(interval: float, samples: int) -> str | None:
    """Name the unit in which `interval` from sample to sample gives a radar window, or None."""
    low, high = WINDOW_NS
    return next((unit for unit, ns in NS_PER.items() if low <= interval * ns * samples <= high), None)


def stated_interval(stated_ns: float) -> float:
    """Check an interval stated by the user, nanoseconds; ReadError if it is not a positive finite number."""
    if not (math.isfinite(stated_ns) and stated_ns > 0):
        raise ReadError(f"sample_interval_ns is {stated_ns}; it must be a positive number of nanoseconds.")
    return float(stated_ns)


def choose_timing(times: SampleTimes | None, samples: int, stated_ns: float | None) -> Timing:
    """Decide interval and start: what the user states, else the sample times.

    Parameters
    ----------
    times : SampleTimes or None
        What the file holds.
    samples : int
        Samples a trace.
    stated_ns : float or None
        The interval stated by the user, nanoseconds. The start then keeps its number of samples.

    Raises
    ------
    ReadError
        If nothing gives the interval, the times are uneven, or no unit is plausible. The file is not named.
    """
    if stated_ns is not None:
        ns = stated_interval(stated_ns)
        start = 0.0
        if times is not None and even_steps(times.values, least=2):
            step, first = _even(times)
            start = first / step * ns
        return Timing(ns, start, f"sample interval {ns:g} ns as stated; window {ns * samples:g} ns")
    if times is None:
        raise ReadError(f"nothing in the file gives the sample interval. {NEED_INTERVAL}")
    step, first = (float(times.values[0]), 0.0) if times.is_interval else _even(times)
    if not (math.isfinite(step) and step > 0):
        raise ReadError(f"{times.where}: a sample interval of {step:g} cannot be. {NEED_INTERVAL}")
    unit = times.unit or _guess_unit(times, step, samples)
    ns = step * NS_PER[unit]
    if not EXACT_WINDOW_NS[0] <= ns * samples <= EXACT_WINDOW_NS[1]:
        raise ReadError(
            f"{times.where}: steps of {step:g} {unit} give a window of {ns * samples:g} ns, which no radar "
            f"records. State the unit of the sample times, or sample_interval_ns, in the site file."
        )
    how = "" if times.unit else ", unit judged by the window"
    note = f"sample interval {ns:g} ns from {times.where} in {unit}{how}; window {ns * samples:g} ns"
    return Timing(ns, first * NS_PER[unit], note)


def even_steps(values: Float64, least: int = 4) -> bool:
    """Say whether numbers (n,) rise in even steps, as times and positions do and samples do not."""
    if values.size < least or not np.isfinite(values).all():
        return False
    with np.errstate(over="ignore", invalid="ignore"):
        step = (values[-1] - values[0]) / (values.size - 1)
        if not (np.isfinite(step) and step > 0):
            return False
        off = np.abs(values - (values[0] + step * np.arange(values.size)))
        return bool((off <= UNEVEN * step).all() and (np.diff(values) > 0).all())


def counts(values: Float64) -> bool:
    """Say whether numbers (n,) only count: 0, 1, 2 ... or 1, 2, 3 ..."""
    return values.size > 0 and bool(
        values[0] in (0.0, 1.0) and (values == values[0] + np.arange(values.size)).all()
    )


def _even(times: SampleTimes) -> tuple[float, float]:
    """Give step and first of even sample times, or raise ReadError."""
    values = times.values
    if values.size < 2:
        raise ReadError(f"{times.where}: one sample time gives no interval. {NEED_INTERVAL}")
    if not even_steps(values, least=2):
        with np.errstate(over="ignore", invalid="ignore"):
            step = np.diff(values)
        usual = float(np.median(step)) if np.isfinite(step).all() else math.nan
        odd = int(np.argmax(np.abs(step - usual))) + 1 if math.isfinite(usual) else 1
        raise ReadError(
            f"{times.where}: sample times do not rise in even steps: {values[odd]:g} follows "
            f"{values[odd - 1]:g} at sample {odd + 1} where the usual step is {usual:g}. Re-export the line "
            "with an even interval, or say in the site file that these are no sample times."
        )
    return float((values[-1] - values[0]) / (values.size - 1)), float(values[0])


def _guess_unit(times: SampleTimes, step: float, samples: int) -> str:
    if times.values.size > 1 and counts(times.values):
        raise ReadError(
            f"{times.where} only counts the samples ({times.values[0]:g} to {times.values[-1]:g}), which "
            f"gives no interval. {NEED_INTERVAL}"
        )
    unit = plausible(step, samples)
    if unit is None:
        readings = ", ".join(f"{step * ns * samples:g} ns if in {unit}" for unit, ns in NS_PER.items())
        raise ReadError(
            f"{times.where}: steps of {step:g} with {samples} samples give a window of {readings}; none lies "
            f"in {WINDOW_NS[0]:g} to {WINDOW_NS[1]:g} ns. {NEED_INTERVAL}"
        )
    return unit
