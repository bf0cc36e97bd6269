"""Line rules: from one [[lines]] table to where each line was walked; pure geometry of the local grid."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]

_RUNS = re.compile(r"(\d+)")


def natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key by which L2 comes before L10, whatever the case of the letters.

    Parameters
    ----------
    name : str
        A file's path or name.

    Returns
    -------
    tuple
        One part for each run of digits or of other characters.
    """
    parts = (part for part in _RUNS.split(name) if part)
    return tuple((0, int(p), p) if p.isdecimal() and p.isascii() else (1, 0, p.casefold()) for p in parts)


def last_number(stem: str) -> int | None:
    """Return the last whole number in a file's stem, or None where there is none."""
    found: list[str] = _RUNS.findall(stem)
    return int(found[-1]) if found and found[-1].isascii() else None


def number_gap(stems: Sequence[str]) -> int | None:
    """Return the index of the first stem whose number leaves the even row of its forerunners' numbers.

    Parameters
    ----------
    stems : sequence of str
        File stems in natural order.

    Returns
    -------
    int or None
        None where the numbers rise in equal steps, or where some stem has no number.
    """
    numbers = [number for number in map(last_number, stems) if number is not None]
    if len(numbers) < 3 or len(numbers) < len(stems):
        return None
    steps = [b - a for a, b in pairwise(numbers)]
    usual = max(set(steps), key=lambda step: (steps.count(step), -abs(step)))
    return next((i + 1 for i, step in enumerate(steps) if step != usual), None)


def end_from_direction(start_m: Point, direction: tuple[int, int], length_m: float) -> Point:
    """Return the end of a line that starts at `start_m` and runs `length_m` along an axis, metres."""
    return start_m[0] + direction[0] * length_m, start_m[1] + direction[1] * length_m


def in_block(point_m: Point, origin_m: Point, rotation_deg: float) -> Point:
    """Take a point of a block of lines to the site's grid.

    Parameters
    ----------
    point_m : (float, float)
        x, y from the block's own origin along its own axes, metres.
    origin_m : (float, float)
        The block's origin in the site's grid, metres.
    rotation_deg : float
        From the grid's x to the block's x, anticlockwise.

    Returns
    -------
    (float, float)
        Metres, rounded to a micrometre.
    """
    turn = math.radians(rotation_deg)
    x = origin_m[0] + point_m[0] * math.cos(turn) - point_m[1] * math.sin(turn)
    y = origin_m[1] + point_m[0] * math.sin(turn) + point_m[1] * math.cos(turn)
    return round(x, 6), round(y, 6)


def off_line_m(first_start_m: Point, first_end_m: Point, step_m: Point) -> float:
    """Return how far a step leads off the first line, at right angles to it, metres."""
    along = first_end_m[0] - first_start_m[0], first_end_m[1] - first_start_m[1]
    return abs(along[0] * step_m[1] - along[1] * step_m[0]) / math.hypot(*along)


def write_out(
    first_start_m: Point, first_end_m: Point, step_m: Point, count: int, zigzag: bool
) -> list[tuple[Point, Point]]:
    """Write a rule out: the start and the end of every line, in the order walked.

    Parameters
    ----------
    first_start_m, first_end_m : (float, float)
        Local x, y of the first line's pegs, metres.
    step_m : (float, float)
        From one line to the next, metres in x and y.
    count : int
        How many lines.
    zigzag : bool
        Every second line, beginning with line 2, was walked back the other way.

    Returns
    -------
    list of ((float, float), (float, float))
        Start and end, metres, rounded to a micrometre so that 3 x 0.1 m is 0.3 m.
    """
    pegs = []
    for k in range(count):
        start = round(first_start_m[0] + k * step_m[0], 6), round(first_start_m[1] + k * step_m[1], 6)
        end = round(first_end_m[0] + k * step_m[0], 6), round(first_end_m[1] + k * step_m[1], 6)
        pegs.append((end, start) if zigzag and k % 2 else (start, end))
    return pegs
