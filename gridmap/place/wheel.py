"""Place a line by its wheel: from a known start, in a known direction, by a nominal or a measured trace interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Line, PlacedLine
from gridmap.place.fiducial import trigger_counts

ODD_SCALE = 0.1
"""A wheel further off its nominal interval than this is told: more likely a wrong length or a wrong interval."""


@dataclass(frozen=True, slots=True)
class WheelReport:
    """What the wheel of one line did.

    Attributes
    ----------
    line : str
        The line.
    scale : float or None
        True metres for one metre of the wheel; None where no length is known.
    trace_m : float
        Metres for one trigger count, as used.
    length_m : float
        From the first to the last trace, as placed, metres.
    notes : tuple of str
        What a person should know.
    """

    line: str
    scale: float | None
    trace_m: float
    length_m: float
    notes: tuple[str, ...] = ()


def wheel_scale(line: Line, nominal_spacing_m: float, length_m: float) -> float:
    """Return true metres for one metre of the wheel, from a line of known length.

    Parameters
    ----------
    line : Line
        Its first and last trace lie at the ends of the length.
    nominal_spacing_m : float
        What the recorder took for one trigger count, metres.
    length_m : float
        Taped length, metres.

    Returns
    -------
    float
        1.016 for a wheel that reads 49.2 m on 50 m.

    Raises
    ------
    PlaceError
        For a line of one trace, or lengths that are not above 0.
    """
    span = _span(line)
    if not (nominal_spacing_m > 0 and length_m > 0 and np.isfinite(nominal_spacing_m * length_m)):
        raise PlaceError(
            f"line {line.name}: spacing {nominal_spacing_m:g} m and length {length_m:g} m must be above 0."
            " Correct nominal_spacing_m or length_m."
        )
    return float(length_m / (span * nominal_spacing_m))


def place_by_wheel(
    line: Line,
    start_m: tuple[float, float],
    toward_m: tuple[float, float],
    nominal_spacing_m: float | None,
    *,
    length_m: float | None = None,
    scale: float = 1.0,
    offset_along_m: float = 0.0,
) -> tuple[PlacedLine, WheelReport]:
    """Place a straight line by counting triggers from its start.

    Parameters
    ----------
    line : Line
        In the order walked.
    start_m, toward_m : (float, float)
        Local x and y of the first trace, and of any other point of the line ahead, metres.
    nominal_spacing_m : float or None
        What the recorder took for one trigger count, metres; needed where no length is known.
    length_m : float or None
        Taped length from the first to the last trace, metres: measures the wheel.
    scale : float
        True metres for one of the wheel's, from elsewhere; used where no length is known.
    offset_along_m : float
        How far the antenna mid-point was ahead of the mark held to the start, metres.

    Returns
    -------
    PlacedLine, WheelReport
        The line, and the scale of its wheel.

    Raises
    ------
    PlaceError
        Without a length and an interval, for a line of one trace, or a direction that is none.
    """
    span = _span(line)
    counts = trigger_counts(line)
    way = np.asarray(toward_m, dtype=np.float64) - np.asarray(start_m, dtype=np.float64)
    size = float(np.hypot(*way))
    if not (size > 0 and np.isfinite(size)):
        raise PlaceError(f"line {line.name} has no direction. Give direction or end_m in the site file.")
    found = None
    notes: tuple[str, ...] = ()
    if length_m is not None:
        if not length_m > 0:
            raise PlaceError(f"line {line.name}: length_m = {length_m:g} must be above 0.")
        trace_m = length_m / span
        if nominal_spacing_m is not None:
            found = wheel_scale(line, nominal_spacing_m, length_m)
            if abs(found - 1) > ODD_SCALE:
                notes = (
                    f"line {line.name}: its wheel reads {span * nominal_spacing_m:.2f} m on {length_m:.2f} m (scale"
                    f" {found:.3f}); check length_m and nominal_spacing_m, or whether traces are missing",
                )
    elif nominal_spacing_m is None or not nominal_spacing_m * scale > 0:
        raise PlaceError(
            f"line {line.name} is placed by its wheel, and neither length_m nor nominal_spacing_m says how far it went."
            " Add one of them."
        )
    else:
        trace_m = nominal_spacing_m * scale
        if scale == 1.0:
            notes = (
                f"line {line.name}: placed by an uncalibrated wheel; its far end may be off by centimetres a metre",
            )
    along_m = (counts - counts[0]) * trace_m
    xy_m = np.asarray(start_m, dtype=np.float64) + (along_m + offset_along_m)[:, None] * (way / size)
    return PlacedLine(line, xy_m, along_m), WheelReport(line.name, found, trace_m, float(along_m[-1]), notes)


def _span(line: Line) -> float:
    counts = trigger_counts(line)
    if len(counts) < 2:
        raise PlaceError(f"line {line.name} has {len(counts)} traces, too few for a length. Take it out.")
    return float(counts[-1] - counts[0])
