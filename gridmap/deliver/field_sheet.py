"""The field sheet: settings, grid plan, lines to tick, stakes, checklists, and where each figure comes from."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gridmap.deliver.sheet_page import FOOT_MM, MARGIN_MM, WIDE_MM, Page, short, write_pages
from gridmap.deliver.sheet_plan import draw_plan
from gridmap.deliver.sheet_words import CHECKLISTS, SHAPES, VERDICT, hours_words
from gridmap.plan.survey import Plan

_ROWS = 40
_WIDE = WIDE_MM - 2 * MARGIN_MM


def write_field_sheet(path: Path, plan: Plan) -> None:
    """Write the sheet as a PDF of A4 pages, whole or not at all.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    plan : Plan
        What to print.
    """
    write_pages(path, lambda: sheet_pages(plan), f"Field sheet, {plan.request.name}")


def sheet_pages(plan: Plan) -> list[Page]:
    """Draw all pages in order."""
    pages = [_first(plan)]
    rows = [
        [line.name, f"{line.start_m[0]:.2f}, {line.start_m[1]:.2f}", f"{line.end_m[0]:.2f}, {line.end_m[1]:.2f}",
         f"{line.length_m:.2f}"]
        for line in plan.lines
    ]  # fmt: skip
    pages += _table(plan, "Lines", rows, ("line", "from x, y (m)", "to x, y (m)", "length"), len(pages), True)
    if plan.frame.to_map is not None:
        corners = [(f"corner {k}", p) for k, p in enumerate(plan.frame.corners_m, start=1)]
        pegs = [(f"peg {p.name}", (p.x_m, p.y_m)) for p in plan.frame.control]
        stakes = []
        for name, point in corners + pegs:
            place = plan.frame.map_of(point)
            assert place is not None
            stakes.append([short(name, 24, 8.5), f"{place[0]:.3f}  {place[1]:.3f}", ""])
        for line in plan.lines:
            ends = [plan.frame.map_of(p) for p in (line.start_m, line.end_m)]
            stakes.append([line.name, *(f"{e[0]:.3f}  {e[1]:.3f}" for e in ends if e is not None)])
        heads = ("line", "start: easting  northing (m)", "end: easting  northing (m)")
        pages += _table(plan, f"Stakes in {plan.request.area.crs}", stakes, heads, len(pages), False)
    pages.append(_checklist(plan, len(pages) + 1))
    pages += _sources(plan, len(pages))
    return pages


def _first(plan: Plan) -> Page:
    sought, ground, effort = plan.request.sought, plan.request.ground, plan.effort
    page = Page(f"Field sheet: {plan.request.name}", 1)
    for x, label in ((MARGIN_MM, "Date"), (60, "Crew"), (125, "Recorder, antenna no.")):
        page.text(x, 27, label)
    for x, wide in ((25, 30), (71, 50), (164, 31)):
        page.blank(x, 27, wide)
    medium = " ".join(w for w in (ground.wetness, ground.medium) if w) or "ground as measured"
    y = page.paragraph(
        MARGIN_MM, 35,
        f"Sought: {sought.material}, {SHAPES[sought.shape]}, {sought.size_m:g} m, down to {sought.depth_m:g} m, in"
        f" {medium}.", _WIDE,
    )  # fmt: skip
    y = page.paragraph(MARGIN_MM, y + 1, VERDICT[plan.seen], _WIDE, size=11, bold=True)
    for reason in plan.reasons:
        y = page.paragraph(MARGIN_MM, y, reason[0].upper() + reason[1:], _WIDE)
    y += 2
    settings = [
        (
            "Antenna",
            f"{plan.choice.antenna.frequency_mhz:g} MHz, {plan.choice.antenna.separation_m:g} m apart",
        ),
        ("Line spacing", f"{plan.figure('line_spacing_m'):g} m, lines along {' and '.join(plan.axes)}"),
        ("Trace interval", f"{plan.figure('trace_interval_m'):g} m"),
        ("Time window", f"{plan.figure('window_ns'):g} ns after time zero"),
        ("Samples", f"{plan.figure('samples'):g} ({plan.figure('sample_interval_ns'):.3g} ns)"),
        ("Lines", f"{len(plan.lines)}, {'zig-zag' if plan.request.walk.zigzag else 'all the same way'}"),
        ("Walking", f"{effort.line_m:.0f} m, and {effort.between_m:.0f} m between"),
        ("Time on site", hours_words(effort.hours)),
    ]
    for index, (label, value) in enumerate(settings):
        x = MARGIN_MM + (index % 2) * _WIDE / 2
        page.text(x, y, label)
        page.text(x + 28, y, value, bold=True)
        y += 6 * (index % 2)
    y = draw_plan(page, plan, y, FOOT_MM - 4)
    if y < FOOT_MM - 12:
        page.text(MARGIN_MM, y + 5, "Obstacles, changes, weather", size=8, bold=True)
    return page


def _table(
    plan: Plan, title: str, rows: Sequence[Sequence[str]], heads: Sequence[str], before: int, tick: bool
) -> list[Page]:
    """Rows of columns; with `tick` a box, and space for file number and remarks."""
    pages: list[Page] = []
    columns = (24, 46, 80, 114) if tick else (24, 46, 112)
    for first in range(0, len(rows), _ROWS):
        page = Page(f"{title}: {plan.request.name}", before + len(pages) + 1)
        for x, head in zip(columns, heads, strict=True):
            page.text(x, 27, head, size=8, bold=True)
        if tick:
            page.text(132, 27, "file no.", size=8, bold=True)
            page.text(155, 27, "remarks", size=8, bold=True)
        for k, row in enumerate(rows[first : first + _ROWS]):
            y = 33.5 + 5.8 * k
            for x, cell in zip(columns, row, strict=True):
                page.text(x, y, cell, size=8.5, bold=x == columns[0])
            if tick:
                page.box(MARGIN_MM, y)
                page.blank(132, y, 20)
                page.blank(155, y, 40)
        pages.append(page)
    return pages


def _checklist(plan: Plan, number: int) -> Page:
    page = Page(f"Checklist: {plan.request.name}", number)
    y = 27.0
    for heading, items in CHECKLISTS:
        page.text(MARGIN_MM, y, heading, size=10, bold=True)
        y += 6
        for item in items:
            page.box(MARGIN_MM, y)
            y = page.paragraph(MARGIN_MM + 7, y, item, _WIDE - 7) + 1.2
        y += 2.5
    page.text(MARGIN_MM, y, "Signed", size=9)
    page.blank(MARGIN_MM + 15, y, 70)
    return page


def _sources(plan: Plan, before: int) -> list[Page]:
    """Print what the plan leaves open, then each figure with formula and source."""
    title = f"Cautions and figures: {plan.request.name}"
    pages = [Page(title, before + 1)]
    y = 27.0

    def room(wanted: float) -> None:
        nonlocal y
        if y + wanted > FOOT_MM - 4:
            pages.append(Page(title, before + len(pages) + 1))
            y = 27.0

    for caution in plan.cautions:
        room(14)
        y = pages[-1].paragraph(MARGIN_MM, y, f"- {caution}", _WIDE) + 1
    y += 4
    for figure in plan.figures:
        room(14)
        page = pages[-1]
        page.text(MARGIN_MM, y, short(f"{figure.label}: {figure.text}", _WIDE, 8.5), size=8.5, bold=True)
        y = (
            page.paragraph(MARGIN_MM + 5, y + 4, f"{figure.formula}. {figure.source}.", _WIDE - 5, size=7)
            + 1.0
        )
    room(8)
    pages[-1].text(
        MARGIN_MM,
        y + 2,
        "[memory]: recalled, not looked up. w wavelength, d depth, v velocity, e permittivity.",
        size=7,
    )
    return pages
