"""Keys that say where a line or a rule of lines was walked: pegs, direction, step, the block's own frame, names."""

from __future__ import annotations

import math

from gridmap.errors import SiteError
from gridmap.site.keys import DIRECTIONS, Table
from gridmap.site.rules import Point, end_from_direction

SHORTEST_M = 0.01
_FAR_M = 1e8


def read_peg(table: Table, key: str, fix: str) -> Point:
    """Return a point [x, y] of the local grid, metres; `fix` says what to write where it is missing."""
    table.need(key, fix)
    peg = table.pair(key, fix=fix)
    if max(abs(peg[0]), abs(peg[1])) > _FAR_M:
        table.fail(key, "larger than any place on Earth", "Write metres in the local grid.")
    return peg


def read_far_end(table: Table, start: Point, start_key: str, end_key: str) -> Point:
    """Return where a line ended: its own key, or direction and length from the start."""
    fix = f'Write {end_key} = [x, y], or direction = "+y" with length_m = 8.0.'
    if end_key in table:
        for key in ("direction", "length_m"):
            if key in table:
                table.fail(
                    key, f"{end_key} is given too", f"Keep {end_key} alone, or direction with length_m."
                )
        end = read_peg(table, end_key, fix)
    else:
        if "direction" not in table and "length_m" not in table:
            raise SiteError(f"{table.where()}: the end of the line is missing. {fix}")
        table.need("direction", fix)
        table.need("length_m", fix)
        direction = DIRECTIONS[table.choice("direction", tuple(DIRECTIONS))]
        length = table.number(
            "length_m", low=0, high=1e5, above=True, fix="Write the taped length of the line, metres."
        )
        end = end_from_direction(start, direction, length)
    if math.dist(start, end) < SHORTEST_M:
        key = end_key if end_key in table else "length_m"
        table.fail(
            key,
            f"the line ends where it starts ({start_key})",
            "Give the pegs of the line in the order walked.",
        )
    return end


def read_step(table: Table) -> Point:
    """Return the step from line to line: step_m, or spacing_m with toward."""
    fix = 'Write step_m = [0.25, 0] or spacing_m = 0.25 with toward = "+x", from one line to the next.'
    if "step_m" in table:
        for key in ("spacing_m", "toward"):
            if key in table:
                table.fail(key, "step_m is given too", "Keep step_m alone, or spacing_m with toward.")
        return table.pair("step_m", fix=fix)
    if "spacing_m" not in table and "toward" not in table:
        raise SiteError(f"{table.where()}: the step from line to line is missing. {fix}")
    table.need("spacing_m", fix)
    table.need("toward", fix)
    spacing = table.number("spacing_m", low=0, high=1000, above=True, fix=fix)
    x, y = DIRECTIONS[table.choice("toward", tuple(DIRECTIONS))]
    return x * spacing, y * spacing


def read_block(table: Table) -> tuple[Point, float]:
    """Read where the block of a rule lies: its own origin and how far its axes are turned."""
    origin: Point = (0.0, 0.0)
    if "origin_m" in table:
        origin = read_peg(
            table,
            "origin_m",
            "Write where the block's own 0, 0 lies in the grid, such as origin_m = [30, 5].",
        )
    if "rotation_deg" not in table:
        return origin, 0.0
    fix = "Write the angle from the grid's x to the block's x, anticlockwise, in degrees, such as rotation_deg = 32."
    return origin, table.number("rotation_deg", low=-360, high=360, fix=fix)


def check_name(table: Table, key: str, name: str) -> str:
    """Return the name of a line, or raise SiteError where it cannot be one."""
    plain = (
        name.isprintable()
        and "/" not in name
        and "\\" not in name
        and (name[:1].isalnum() or name[:1] == "_")
    )
    if not plain or len(name) > 80:
        hint = (
            'Give it a name with the key name, such as name = "L001"'
            if key == "file"
            else "Name it otherwise"
        )
        table.fail(
            key,
            f"{name[:60]!a} cannot name a line",
            f"{hint}: begin with a letter or digit, no /, 80 characters at most.",
        )
    return name
