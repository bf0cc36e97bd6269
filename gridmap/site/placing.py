"""What places lines other than pegs: [track], [terrain], and the keys of a line for wheel, marks and polyline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal, cast

from gridmap.errors import SiteError
from gridmap.site.keys import Table
from gridmap.site.paths import find_file
from gridmap.site.records import ControlPoint, LinePlan, Placing, StationsPlan, TerrainPlan, TrackPlan

NOWHERE = (math.nan, math.nan)
"""The peg of a line that is not placed by it."""

_PLACINGS = ("pegs", "track", "wheel", "marks", "polyline", "stations")
_OWN_KEYS: dict[str, tuple[str, ...]] = {
    "polyline": ("polyline_m",),
    "marks": ("marks", "marks_m", "mark_traces", "mark_every_m"),
    "wheel": ("nominal_spacing_m",),
}
_FAR_M = 1e8


def placing_of(table: Table) -> Placing:
    """Return what places a line: the key positions, else what its other keys show.

    Raises
    ------
    SiteError
        For keys of two ways of placing, or a way that a whole [[lines]] table cannot have.
    """
    shown = [way for way, keys in _OWN_KEYS.items() if any(key in table for key in keys)]
    if "positions" in table:
        placing = table.choice(
            "positions", _PLACINGS if table.name == "line" else ("pegs", "track", "wheel", "stations")
        )
        for way in shown:
            if way != placing:
                key = next(key for key in _OWN_KEYS[way] if key in table)
                table.fail(
                    key, f'it belongs to positions = "{way}"', f'Take it out, or write positions = "{way}".'
                )
        return cast(Placing, placing)
    if len(shown) > 1:
        key = next(key for key in _OWN_KEYS[shown[1]] if key in table)
        table.fail(key, f"the line is placed by its {shown[0]} already", "Keep the one that is better known.")
    return cast(Placing, shown[0]) if shown else "pegs"


def read_spacing(table: Table) -> float | None:
    """Return the nominal trace interval of a wheel, metres."""
    if "nominal_spacing_m" not in table:
        return None
    fix = "Write what the recorder took for one trace, in metres, such as nominal_spacing_m = 0.05."
    return table.number("nominal_spacing_m", low=0, high=10, above=True, fix=fix)


def read_placing(table: Table, plan: LinePlan) -> LinePlan:
    """Read the keys of a [[line]] that is placed by a track, its wheel, marks or a polyline.

    Parameters
    ----------
    table : Table
        The [[line]] table.
    plan : LinePlan
        With name, file, placing, and start, end and direction where they are given.

    Returns
    -------
    LinePlan
        Complete.

    Raises
    ------
    SiteError
        For a key that is missing or cannot be right.
    """
    if plan.placing == "wheel":
        spacing = read_spacing(table)
        length = None
        if "length_m" in table:
            fix = "Write the taped length of the line, metres."
            length = table.number("length_m", low=0, high=1e5, above=True, fix=fix)
        if spacing is None and length is None:
            table.need("nominal_spacing_m", "Write it, or length_m, to say how far the line went.")
        return replace(plan, nominal_spacing_m=spacing, length_m=length)
    if plan.placing == "polyline":
        table.need("polyline_m", "Write its vertices, such as polyline_m = [[0, 0], [5, 0], [8, 4]].")
        fix = "Write two or more vertices [x, y] in the order walked, metres."
        return replace(
            plan, polyline_m=cast(tuple[tuple[float, float], ...], _rows(table, "polyline_m", 2, fix))
        )
    if plan.placing == "marks":
        return _marks(table, plan)
    return plan


def _marks(table: Table, plan: LinePlan) -> LinePlan:
    given = [key for key in ("marks", "marks_m", "mark_traces") if key in table]
    if len(given) != 1:
        table.need("marks", "Write marks = [[trace, x, y], ...], or marks_m = [[trace, metres], ...].")
        table.fail(given[1], f"{given[0]} is given too", "Keep one of them.")
    if "mark_every_m" in table and given != ["mark_traces"]:
        table.fail("mark_every_m", "it needs mark_traces beside it", "Add the traces of the marks.")
    if given == ["marks"]:
        rows = _rows(table, "marks", 3, "Write two or more [trace, x, y]; trace 1 is the first.")
        return replace(plan, marks=cast(tuple[tuple[float, float, float], ...], rows))
    if given == ["marks_m"]:
        rows = _rows(
            table, "marks_m", 2, "Write two or more [trace, metres from the start]; trace 1 is the first."
        )
        return replace(plan, marks_m=cast(tuple[tuple[float, float], ...], rows))
    value = table.values["mark_traces"]
    fix = (
        "Write the traces at which marks were set, such as mark_traces = [1, 101, 203]; trace 1 is the first."
    )
    if not isinstance(value, list) or len(value) < 2 or not all(type(v) is int and v >= 1 for v in value):
        table.fail("mark_traces", "two or more whole numbers are expected", fix)
    table.need("mark_every_m", "Write how far apart the marks were set, metres, such as mark_every_m = 5.")
    every = table.number("mark_every_m", low=0, high=1e4, above=True, fix="Write metres from mark to mark.")
    return replace(plan, mark_traces=tuple(sorted(cast(list[int], value))), mark_every_m=every)


def read_track_table(tables: Sequence[Table], root: Path) -> TrackPlan | None:
    """Return the checked [track] table, or None where there is none."""
    if not tables:
        return None
    t = tables[0]
    t.need("file", 'Name the track, such as file = "track.nmea".')
    plan = TrackPlan(_existing(t, "file", root))
    if "format" in t:
        formats = ("auto", "nmea", "gpx", "text")
        plan = replace(plan, format=cast(Literal["auto", "nmea", "gpx", "text"], t.choice("format", formats)))
    if "min_quality" in t:
        qualities = ("fixed", "float", "differential", "any")
        chosen = t.choice("min_quality", qualities)
        plan = replace(plan, min_quality=cast(Literal["fixed", "float", "differential", "any"], chosen))
    if "time_offset_s" in t and t.values["time_offset_s"] == "find":
        plan = replace(plan, time_offset_s=None)
    elif "time_offset_s" in t:
        fix = 'Write the seconds to add to trace times, or "find" to have them found from the walking.'
        plan = replace(plan, time_offset_s=t.number("time_offset_s", low=-1e9, high=1e9, fix=fix))
    if "latency_s" in t and t.values["latency_s"] == "find":
        plan = replace(plan, latency_s=None)
    elif "latency_s" in t:
        fix = 'Write how late fixes are stamped, in seconds, or "find" to have it found from opposed passes.'
        plan = replace(plan, latency_s=t.number("latency_s", low=-5, high=5, fix=fix))
    if "gap_max_s" in t:
        fix = "Write seconds, such as gap_max_s = 5."
        plan = replace(plan, gap_max_s=t.number("gap_max_s", low=0, high=600, fix=fix))
    if "sd_m" in t:
        fix = "Write one standard deviation of a fix in metres, such as sd_m = 0.02."
        plan = replace(plan, sd_m=t.number("sd_m", low=0, high=100, above=True, fix=fix))
    if "lever_arm_m" in t:
        fix = (
            "Write [ahead, left, up] from the radar's antenna mid-point to the receiver's antenna, metres, such as"
            " lever_arm_m = [0, 0, 1.8]."
        )
        value = t.values["lever_arm_m"]
        if (
            not isinstance(value, list)
            or len(value) != 3
            or not all(_finite(v) and abs(v) <= 50 for v in value)
        ):
            t.fail("lever_arm_m", "three numbers in square brackets are expected", fix)
        ahead, left, up = (float(v) for v in value)
        plan = replace(plan, lever_arm_m=(ahead, left, up))
    return replace(plan, columns=_columns(t), frame=_frame(t))


def read_stations_table(tables: Sequence[Table], root: Path) -> StationsPlan | None:
    """Return the checked [stations] table, or None where there is none."""
    if not tables:
        return None
    t = tables[0]
    t.need("file", 'Name the surveyed points, such as file = "stations.csv".')
    return StationsPlan(_existing(t, "file", root), _columns(t), _frame(t))


def read_terrain_table(tables: Sequence[Table], root: Path, has_crs: bool) -> TerrainPlan | None:
    """Return the checked [terrain] table, or None where there is none; a raster needs a crs."""
    if not tables:
        return None
    t = tables[0]
    slices = cast(
        Literal["ground", "level"], t.choice("slices", ("ground", "level")) if "slices" in t else "ground"
    )
    if ("points" in t) == ("dem" in t):
        if "dem" in t:
            t.fail("dem", "points is given too", "Keep the one that is better known.")
        t.need("points", 'Name the heights: points = "ground.csv", or dem = "ground.tif".')
    if "dem" in t:
        for key in ("columns", "frame"):
            if key in t:
                t.fail(key, "it belongs to points", "Take it out.")
        if not has_crs:
            t.fail(
                "dem",
                "the site has no crs",
                "Add crs and control points: a raster of heights lies in the map.",
            )
        return TerrainPlan(dem=_existing(t, "dem", root), slices=slices)
    return TerrainPlan(_existing(t, "points", root), _columns(t), _frame(t), slices=slices)


def check_used(lines: Sequence[LinePlan], way: Placing, tables: Sequence[Table], source: str) -> None:
    """Raise SiteError where lines are placed by a track or by stations that are not there, or these place no line."""
    users = [plan.name for plan in lines if plan.placing == way]
    if users and not tables:
        raise SiteError(
            f'{source}: line {users[0]} has positions = "{way}", and there is no table [{way}]. Add it with its file.'
        )
    if tables and not users:
        raise SiteError(
            f'{tables[0].where()}: no line is placed by it. Write positions = "{way}" in [[line]] or [[lines]].'
        )


def check_frame(
    crs: str | None, control: Sequence[ControlPoint], lines: Sequence[LinePlan], source: str
) -> None:
    """Raise SiteError where a CRS is given and nothing says where the local grid lies: neither pegs nor a track."""
    if crs is None or control:
        return
    other = next((plan for plan in lines if plan.placing != "track"), None)
    if other is not None:
        raise SiteError(
            f'{source}: [site] crs = "{crs[:40]}" needs two or more [[control]] points, since line {other.name} is'
            " placed in the grid and not by a track. Add pegs known in the grid and in the map, or take crs out for a"
            " map in grid metres."
        )


def _existing(table: Table, key: str, root: Path) -> Path:
    path, fault = find_file(table, key, root)
    if fault:
        table.fail(key, fault, "Correct the path, or put the file back.")
    return path


def _columns(table: Table) -> dict[str, str | int]:
    if "columns" not in table:
        return {}
    value = table.values["columns"]
    fix = 'Write columns = { time = "utc", easting = "E", northing = "N" }, or column numbers from 1.'
    if not isinstance(value, dict) or not value:
        table.fail("columns", "a table in curly brackets is expected", fix)
    for role, heading in value.items():
        if not (isinstance(heading, str) or (type(heading) is int and heading >= 1)):
            table.fail("columns", f"{role} is neither a heading nor a column's number", fix)
    return cast(dict[str, str | int], dict(value))


def _frame(table: Table) -> Literal["local", "map"]:
    return (
        cast(Literal["local", "map"], table.choice("frame", ("local", "map")))
        if "frame" in table
        else "local"
    )


def _finite(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) <= _FAR_M


def _rows(table: Table, key: str, width: int, fix: str) -> tuple[tuple[float, ...], ...]:
    value = table.values[key]
    right = isinstance(value, list) and 2 <= len(value) <= 100_000
    if not right or not all(
        isinstance(row, list) and len(row) == width and all(_finite(v) for v in row)
        for row in cast(list[object], value)
    ):
        table.fail(key, f"two or more rows of {width} numbers are expected", fix)
    return tuple(tuple(float(v) for v in row) for row in cast(list[list[float]], value))
