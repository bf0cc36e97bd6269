"""Paper for the crew: what to walk again, with boxes to tick and the radargram that shows why."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from gridmap.check.finding import CheckedLine, Finding, Verdict
from gridmap.check.finding_words import stretch_words, walk_again, what_words
from gridmap.deliver.check_radargram import STEPS, CheckRadargram
from gridmap.deliver.check_sheet import rows_of
from gridmap.deliver.check_sheet_plan import COLOURS, ends_of
from gridmap.deliver.sheet_page import FOOT_MM, HIGH_MM, MARGIN_MM, WIDE_MM, Page, short, write_pages

_TOP_MM = 33.0
_TEXT_MM = 100.0
_PICTURE_MM = (66.0, 24.0)
_PICTURES = 60
"""Findings with a picture at most; a list that is longer than that is words alone after them."""
_LEAST_TRACES, _MOST_TRACES = 60, 500


def write_walk_again(
    path: Path, verdict: Verdict, radargrams: Mapping[str, CheckRadargram] | None = None
) -> None:
    """Write the list as a PDF of A4 pages, whole or not at all; an empty list says so.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    verdict : Verdict
        Of which what must be walked again is listed, worst first.
    radargrams : mapping of str to CheckRadargram, or None
        By line; each finding has a piece of its line's, with the stretch marked.
    """
    write_pages(path, lambda: _pages(verdict, radargrams or {}), f"Walk again: {verdict.site}")


def _pages(verdict: Verdict, radargrams: Mapping[str, CheckRadargram]) -> list[Page]:
    by_name = {line.name: line for line in verdict.lines}
    numbers = {id(f): k for k, f in enumerate(verdict.findings, 1)}
    again = walk_again(verdict)
    pages = [_page(verdict, 1)]
    y = _TOP_MM
    if not again:
        pages[0].text(MARGIN_MM, y, "Nothing must be walked again.", size=11, bold=True)
    for k, f in enumerate(again):
        rows = [
            *rows_of(f"Why: {what_words(f)}", _TEXT_MM, 9, 4),
            *rows_of(f"Do: {f.what_to_do}" if f.what_to_do else "", _TEXT_MM, 9, 4),
        ]
        radargram = radargrams.get(f.line) if k < _PICTURES else None
        high = max(13.0 + 4.3 * len(rows), 8.0 + _PICTURE_MM[1] if radargram else 0.0) + 5.0
        if y + high > FOOT_MM - 1:
            pages.append(_page(verdict, len(pages) + 1))
            y = _TOP_MM
        _entry(pages[-1], y, numbers[id(f)], f, by_name.get(f.line), rows)
        if radargram is not None:
            _evidence(pages[-1], WIDE_MM - MARGIN_MM - _PICTURE_MM[0], y + 3.0, radargram, f)
        y += high
    return pages


def _page(verdict: Verdict, number: int) -> Page:
    page = Page(f"Walk again: {verdict.site}", number, "list")
    placed = all(line.placed for line in verdict.lines)
    where = (
        "Stretches are metres from the start of the line, x and y metres on the site's grid."
        if placed
        else "Nobody said how far apart traces are: stretches are counted in traces from the start of the line."
    )
    page.text(MARGIN_MM, 26, f"Tick what is done. {where}", size=8)
    return page


def _entry(page: Page, y: float, number: int, f: Finding, line: CheckedLine | None, rows: list[str]) -> None:
    """Write a box, the number on the plan, line and stretch, where it lies, why, what to do, and room for the crew."""
    placed = line is None or line.placed
    page.box(MARGIN_MM, y, 6.0)
    page.text(MARGIN_MM + 9, y, str(number), size=11, bold=True)
    page.text(MARGIN_MM + 18, y, short(f.line or "Survey", 48, 11), size=11, bold=True)
    page.text(MARGIN_MM + 66, y, stretch_words(f, placed) or "whole line", size=11, bold=True)
    if line is not None and placed:
        start, end = ends_of(line, f)
        words = f"from x {start[0]:.2f}, y {start[1]:.2f} to x {end[0]:.2f}, y {end[1]:.2f}"
        page.text(WIDE_MM - MARGIN_MM, y, words, size=8, right=True)
    y += 5.4
    for row in rows:
        page.text(MARGIN_MM + 9, y, row)
        y += 4.3
    page.text(MARGIN_MM + 9, y + 1.2, "New file", size=8)
    page.blank(MARGIN_MM + 23, y + 1.2, 32)
    page.text(MARGIN_MM + 58, y + 1.2, "Time, name", size=8)
    page.blank(MARGIN_MM + 76, y + 1.2, 32)


def _evidence(page: Page, x: float, y: float, radargram: CheckRadargram, f: Finding) -> None:
    """Draw the radargram about the stretch, its ends as lines; upper left corner at x, y, millimetres."""
    wide, high = _PICTURE_MM
    along, count = radargram.along_m, radargram.traces
    first, last = 0, count - 1
    stretched = math.isfinite(f.from_m) and math.isfinite(f.to_m)
    ends = [int(np.argmin(np.abs(along - m))) for m in (f.from_m, f.to_m)] if stretched else []
    if stretched:
        shown = min(count, max(_LEAST_TRACES, 3 * (ends[1] - ends[0] + 1)))
        first = max(0, min(count - shown, (ends[0] + ends[1]) // 2 - shown // 2))
        last = first + shown - 1
    step = max(1, (last - first + 1) // _MOST_TRACES)
    cells = radargram.cells()[first : last + 1 : step].T
    page.axes.imshow(
        cells, cmap="gray", vmin=1, vmax=STEPS, extent=(x, x + wide, y + high, y), aspect="auto",
        interpolation="nearest", zorder=2,
    )  # fmt: skip
    page.axes.set(xlim=(0, WIDE_MM), ylim=(HIGH_MM, 0))
    for end in ends:
        at = x + wide * (end - first + 0.5) / (last - first + 1)
        page.axes.plot([at, at], [y, y + high], color="w", lw=2.2, zorder=3)
        page.axes.plot([at, at], [y, y + high], color=COLOURS["walk again"], lw=1.2, zorder=4)
    page.axes.plot([x, x + wide, x + wide, x, x], [y, y, y + high, y + high, y], color="k", lw=0.6, zorder=5)
    end_ns = radargram.start_ns + radargram.step_ns * (radargram.samples - 1)
    page.text(x, y + high + 2.6, f"trace {radargram.first_trace[first]}", size=6)
    page.text(
        x + wide,
        y + high + 2.6,
        f"trace {radargram.first_trace[last]}; down to {end_ns:.0f} ns",
        size=6,
        right=True,
    )
