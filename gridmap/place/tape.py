"""Place the traces of a taped line between its pegs, and check it against the grid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Float64, Int64, Line, PlacedLine, Similarity

_SHORTEST_M = 0.01


def place_by_pegs(
    line: Line, start_m: tuple[float, float], end_m: tuple[float, float], offset_along_m: float = 0.0
) -> PlacedLine:
    """Spread a line's traces evenly, by trigger number, from its first peg to its last.

    Parameters
    ----------
    line : Line
        In the order walked. A trigger number that is missing is a dropped trace and leaves a gap;
        without trigger numbers the traces are evenly spaced.
    start_m, end_m : (float, float)
        Local x, y of the pegs at the first and at the last trace, metres.
    offset_along_m : float
        How far the antenna mid-point was ahead of the mark held to the pegs, in the walking direction,
        metres; negative where it came behind.

    Returns
    -------
    PlacedLine
        Antenna mid-points, (trace, 2) float64, and distance from the first trace, (trace,) float64.

    Raises
    ------
    PlaceError
        Fewer than two traces; pegs in one place or not finite; trigger numbers that do not increase.
    """
    count = int(line.traces.shape[0])
    if count < 2:
        raise PlaceError(
            f"line {line.name} has {count} trace{'' if count == 1 else 's'}, too few to lie between two pegs."
            " Take the line out of the site file, or walk it again."
        )
    pegs = np.array([start_m, end_m], dtype=np.float64)
    length_m = float(np.hypot(*(pegs[1] - pegs[0])))
    if not math.isfinite(length_m + offset_along_m):
        raise PlaceError(
            f"line {line.name}: its pegs or its offset are no finite numbers. Correct the site file."
        )
    if length_m < _SHORTEST_M:
        raise PlaceError(f"line {line.name} ends where it starts. Correct the pegs in the site file.")
    number = np.arange(count) if line.trace_number is None else line.trace_number
    _check_numbers(line.name, number, count)
    share = (number - number[0]) / float(number[-1] - number[0])
    ahead = offset_along_m * (pegs[1] - pegs[0]) / length_m
    xy_m = (1.0 - share)[:, None] * pegs[0] + share[:, None] * pegs[1] + ahead
    return PlacedLine(line, xy_m, share * length_m)


def _check_numbers(name: str, number: Int64, count: int) -> None:
    if number.shape != (count,):
        raise PlaceError(
            f"line {name} has {count} traces and {number.size} trigger numbers. Read the file again."
        )
    stuck = np.flatnonzero(np.diff(number) <= 0)
    if stuck.size:
        first = int(stuck[0])
        raise PlaceError(
            f"line {name}, trace {first + 2}: trigger number {number[first + 1]} comes after {number[first]}."
            " Trigger numbers must increase: walk the line again, or write the file without them."
        )


def outside_grid(placed: PlacedLine, size_m: tuple[float, float], margin_m: float = 0.5) -> str | None:
    """Say where a line leaves the grid that the site file states.

    Parameters
    ----------
    placed : PlacedLine
        The line.
    size_m : (float, float)
        Width along x and length along y from the grid's origin, metres.
    margin_m : float
        How far outside is still taken for turning room, metres.

    Returns
    -------
    str or None
        A warning that names the line, the side and the distance; None where the line is inside.
    """
    size = np.asarray(size_m, dtype=np.float64)
    over = np.concatenate(
        [-placed.xy_m, placed.xy_m - size], axis=1
    )  # (trace, 4): left of x, below y, beyond x, beyond y
    trace, side = np.unravel_index(int(np.argmax(over)), over.shape)
    worst_m = float(over[trace, side])
    if worst_m <= margin_m:
        return None
    where = ("below x = 0", "below y = 0", f"beyond x = {size[0]:g} m", f"beyond y = {size[1]:g} m")[
        int(side)
    ]
    return (
        f"line {placed.line.name} lies up to {worst_m:.2f} m outside the grid ({where}, worst at trace"
        f" {int(trace) + 1}). Check its pegs, or size_m in the site file."
    )


@dataclass(frozen=True, slots=True)
class PositionsTable:
    """Where every trace lies, one row a trace, lines in the order given.

    Attributes
    ----------
    line : tuple of str
        Name of the line.
    trace : (row,) int64
        Number of the trace in its line, in the order walked, from 1.
    trigger : (row,) int64
        Trigger count as recorded; the same as `trace` where none was.
    x_m, y_m : (row,) float64
        Local grid, metres.
    easting_m, northing_m : (row,) float64 or None
        Map, metres; None where the site has no map.
    elevation_m : (row,) float64 or None
        Height of the ground, metres, NaN where not known; None where no line has any.
    """

    line: tuple[str, ...]
    trace: Int64
    trigger: Int64
    x_m: Float64
    y_m: Float64
    easting_m: Float64 | None = None
    northing_m: Float64 | None = None
    elevation_m: Float64 | None = None


def positions_table(lines: Sequence[PlacedLine], transform: Similarity | None) -> PositionsTable:
    """List the places of all traces, in the grid and in the map.

    Parameters
    ----------
    lines : sequence of PlacedLine
        In the order wanted.
    transform : Similarity or None
        Local grid to map; None: grid only.

    Returns
    -------
    PositionsTable
        New arrays.
    """
    counts = [placed.xy_m.shape[0] for placed in lines]
    names = tuple(placed.line.name for placed, count in zip(lines, counts, strict=True) for _ in range(count))
    trace = [np.arange(1, count + 1, dtype=np.int64) for count in counts]
    trigger = [
        own if placed.line.trace_number is None else placed.line.trace_number.astype(np.int64)
        for placed, own in zip(lines, trace, strict=True)
    ]
    xy_m = np.concatenate([placed.xy_m for placed in lines]) if lines else np.zeros((0, 2))
    en_m = None if transform is None else transform.to_map(xy_m)
    heights = [
        np.full(count, np.nan) if placed.elevation_m is None else placed.elevation_m
        for placed, count in zip(lines, counts, strict=True)
    ]
    known = any(placed.elevation_m is not None for placed in lines)
    return PositionsTable(
        line=names,
        trace=np.concatenate(trace) if trace else np.zeros(0, np.int64),
        trigger=np.concatenate(trigger) if trigger else np.zeros(0, np.int64),
        x_m=xy_m[:, 0].copy(),
        y_m=xy_m[:, 1].copy(),
        easting_m=None if en_m is None else en_m[:, 0].copy(),
        northing_m=None if en_m is None else en_m[:, 1].copy(),
        elevation_m=np.concatenate(heights) if known else None,
    )
