"""From [[line]], [[lines]] and [[swaths]] tables to the plan of every line walked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from gridmap.errors import SiteError
from gridmap.site.absent import with_absent
from gridmap.site.keys import DIRECTIONS, Table
from gridmap.site.paths import find_file, find_pattern
from gridmap.site.pegs import SHORTEST_M, check_name, read_block, read_far_end, read_peg, read_step
from gridmap.site.placing import NOWHERE, placing_of, read_placing, read_spacing
from gridmap.site.records import LinePlan
from gridmap.site.rules import in_block, number_gap, off_line_m, write_out
from gridmap.site.swaths import read_swaths


def read_lines(
    tables: Sequence[Table], root: Path, source: str, *, absent_ok: bool = False
) -> tuple[LinePlan, ...]:
    """Return the plan of every line, in the order of the site file.

    Parameters
    ----------
    tables : sequence of Table
        The [[line]], [[lines]] and [[swaths]] tables.
    root : Path
        Folder that data paths start in, absolute.
    source : str
        The site file as a message names it.
    absent_ok : bool
        Whether files may be missing; their lines are then in the plan all the same.

    Returns
    -------
    tuple of LinePlan
        At least one; names and files are unique.

    Raises
    ------
    SiteError
        For a line that cannot be right, files that are missing, or a name or file that comes twice.
    """
    if not tables:
        raise SiteError(
            f"{source}: there are no lines. Add [[line]] or [[lines]] tables that name the data files."
        )
    plans: list[tuple[Table, LinePlan]] = []
    missing: list[tuple[Table, str]] = []
    swaths = 0
    for block, table in enumerate(tables):
        if table.name == "lines":
            plans.extend((table, replace(plan, block=block)) for plan in _rule(table, root, absent_ok))
        elif table.name == "swaths":
            plans.extend((table, replace(plan, block=block)) for plan in read_swaths(table, root, swaths))
            swaths = 1 + max(plan.swath or 0 for _, plan in plans)
        else:
            plan, fault = _single(table, root)
            plans.append((table, plan))
            if fault and not absent_ok:
                missing.append((table, fault))
    if missing:
        _fail_missing(missing)
    _check_unique(plans, root)
    return tuple(plan for _, plan in plans)


def _single(table: Table, root: Path) -> tuple[LinePlan, str | None]:
    table.need("file", 'Name the data file, such as file = "lines/L001.sgy".')
    path, fault = find_file(table, "file", root)
    if "name" in table:
        name = check_name(
            table, "name", table.string("name", fix="Leave the key out to use the file's name.")
        )
    else:
        name = check_name(table, "file", path.stem)
    return _placed(table, name, path), fault


def _placed(table: Table, name: str, path: Path) -> LinePlan:
    """Read what places a single line: the key positions, or the keys that only one way of placing has."""
    placing = placing_of(table)
    start_fix = "Write the x and y of the first peg in the order walked, such as start_m = [0, 0]."
    if placing == "pegs":
        start = read_peg(table, "start_m", start_fix)
        return LinePlan(name, path, start, read_far_end(table, start, "start_m", "end_m"))
    start = read_peg(table, "start_m", start_fix) if "start_m" in table else NOWHERE
    end = (
        read_far_end(table, start, "start_m", "end_m")
        if {"start_m", "end_m"} <= set(table.values)
        else NOWHERE
    )
    plan = LinePlan(name, path, start, end, placing)
    if placing in ("wheel", "marks") and "marks" not in table:
        table.need("start_m", start_fix)
        if "end_m" not in table:
            table.need(
                "direction", 'Write direction = "+x", or end_m = [x, y], to say which way the line ran.'
            )
            x, y = DIRECTIONS[table.choice("direction", tuple(DIRECTIONS))]
            plan = replace(plan, toward_m=(start[0] + x, start[1] + y))
    return read_placing(table, plan)


def _rule(table: Table, root: Path, absent_ok: bool) -> list[LinePlan]:
    table.need("files", 'Name the data files by a pattern, such as files = "lines/L*.sgy".')
    files = find_pattern(table, "files", root)
    if absent_ok:
        files = with_absent(files, _count(table) if "count" in table else None)
    _check_count(table, files)
    prefix = table.string("prefix", fix="Leave the key out instead.", longest=40) if "prefix" in table else ""
    names = [check_name(table, "prefix" if prefix else "files", prefix + path.stem) for path in files]
    placing = placing_of(table)
    if placing in ("track", "stations"):
        for key in ("origin_m", "rotation_deg"):
            if key in table:
                table.fail(key, f"the lines are placed by {placing}, not in a block", "Take it out.")
        return [
            LinePlan(name, path, NOWHERE, NOWHERE, placing) for name, path in zip(names, files, strict=True)
        ]
    spacing = read_spacing(table) if placing == "wheel" else None
    start = read_peg(
        table, "first_start_m", "Write where the first line began, such as first_start_m = [0, 0]."
    )
    end = read_far_end(table, start, "first_start_m", "first_end_m")
    step, zigzag = (0.0, 0.0), False
    if len(files) > 1:
        step = read_step(table)
        if off_line_m(start, end, step) < SHORTEST_M:
            key = "step_m" if "step_m" in table else "toward"
            table.fail(
                key,
                "the step runs along the lines or is 0",
                "Give the step from one line to the next, across.",
            )
        table.need(
            "zigzag",
            "Write zigzag = true if every second line was walked back, false if all ran the same way.",
        )
    if "zigzag" in table:
        zigzag = table.flag("zigzag", fix="Write zigzag = true or zigzag = false.")
    origin, rotation = read_block(table)
    pegs = [
        (in_block(a, origin, rotation), in_block(b, origin, rotation))
        for a, b in write_out(start, end, step, len(files), zigzag)
    ]
    return [
        LinePlan(name, path, *both, placing, nominal_spacing_m=spacing)
        for name, path, both in zip(names, files, pegs, strict=True)
    ]


def _count(table: Table) -> int:
    fix = "Write how many lines there are, such as count = 25."
    return round(table.number("count", low=1, high=1e6, fix=fix))


def _check_count(table: Table, files: Sequence[Path]) -> None:
    if "count" in table:
        if _count(table) != len(files):
            table.fail(
                "count",
                f"the pattern matches {len(files)} files, {files[0].name} to {files[-1].name}",
                "Find the missing file or correct the count: one file too few puts all later lines in a wrong"
                " place.",
            )
        return
    gap = number_gap([path.stem for path in files])
    if gap is not None:
        before, after = files[max(gap - 1, 0)].name, files[max(gap, 1)].name
        table.fail(
            "files",
            f"the numbers of the {len(files)} files are uneven between {before} and {after}",
            f"Put the missing file back; or add count = {len(files)} if no place was left out between them; "
            "or write one [[lines]] table before the gap and one after it.",
        )


def _fail_missing(missing: Sequence[tuple[Table, str]]) -> None:
    table, first = missing[0]
    if len(missing) == 1:
        table.fail("file", first, "Correct the path, put the file back, or take the line out.")
    others = ", ".join(str(t.values["file"]) for t, _ in missing[1:5]) + (", ..." if len(missing) > 5 else "")
    table.fail(
        "file",
        f"{first}; {len(missing)} files are missing in all (also {others})",
        "Put the files back, or give the folder that holds them as data.",
    )


def _check_unique(plans: Sequence[tuple[Table, LinePlan]], root: Path) -> None:
    files: dict[tuple[Path, int | None], Table] = {}
    names: dict[str, tuple[Table, LinePlan]] = {}
    for table, plan in plans:
        key = "file" if table.name == "line" else "files"
        real = plan.file.resolve(), plan.channel if plan.channels else None
        if real in files:
            table.fail(
                key,
                f"{_relative(plan.file, root)} stands in {files[real].label} already",
                "Name each data file once: a line cannot lie in two places.",
            )
        files[real] = table
        if plan.name in names:
            other_table, other = names[plan.name]
            table.fail(
                "name" if "name" in table else key,
                f"two lines are named {plan.name}: {_relative(other.file, root)} ({other_table.label}) "
                f"and {_relative(plan.file, root)} ({table.label})",
                'Give one of them another name with the key name, or prefix = "..." for a whole [[lines]]'
                " table.",
            )
        names[plan.name] = table, plan


def _relative(path: Path, root: Path) -> str:
    return path.relative_to(root).as_posix()
