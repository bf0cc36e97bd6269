"""The plan on the check sheet: lines as walked, what is wrong along them in colour, pattern and number."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from gridmap.check.finding import CheckedLine, Finding, Severity, Verdict
from gridmap.deliver.drawing import multiples, round_step, tick_text
from gridmap.deliver.sheet_page import MARGIN_MM, WIDE_MM, Page
from gridmap.model import Float64
from gridmap.place.thin_path import thin_path

COLOURS: dict[Severity, str] = {"walk again": "#a80020", "attention": "#7a4300", "note": "#33506b"}
_BADGE_MM = 2.3
_SHORTEST_MM = 1.6
_MOST_BADGES = 40
At = Callable[[Float64], Float64]


def draw_check_plan(page: Page, verdict: Verdict, top_mm: float, bottom_mm: float) -> float:
    """Draw the plan to one scale between two heights of the page; return where it ends, millimetres."""
    marked = [np.array([f.xy_m]) for f in verdict.findings if f.xy_m is not None]
    places = np.concatenate([*(line.xy_m for line in verdict.lines), *marked])
    low, high = places.min(axis=0), places.max(axis=0)
    size = np.maximum(high - low, 0.5)
    wide, tall = WIDE_MM - 2 * MARGIN_MM - 24, bottom_mm - top_mm - 18
    scale = float(min(wide / size[0], tall / size[1]))
    left, base = MARGIN_MM + 12 + 0.5 * (wide - scale * size[0]), top_mm + 6 + scale * size[1]

    def at(xy_m: Float64) -> Float64:
        return np.stack(
            [left + scale * (xy_m[..., 0] - low[0]), base - scale * (xy_m[..., 1] - low[1])], axis=-1
        )

    for line in verdict.lines:
        path = at(line.xy_m[thin_path(line.xy_m, line.along_m)])
        page.axes.plot(*path.T, color="#5d6b74", lw=0.5 if len(verdict.lines) < 80 else 0.25)
        if len(verdict.lines) < 80:
            page.axes.plot(*path[0], marker="o", ms=1.6, color="#11181c")
    if all(line.placed for line in verdict.lines):
        _axes(page, low, high, at)
    taken: list[Float64] = []
    by_name = {line.name: line for line in verdict.lines}
    shown = [(k, f) for k, f in enumerate(verdict.findings, 1) if f.severity != "note" and f.line in by_name]
    for _, f in reversed(shown):
        _band(page, at(_stretch(by_name[f.line], f, _SHORTEST_MM / scale)), f.severity)
    for number, f in shown:
        place = at(_stretch(by_name[f.line], f, 0.0))
        wide, high = np.abs(place[-1] - place[0])
        _badge(page, place[len(place) // 2], number, f.severity, taken, bool(wide > high))
    for number, f in enumerate(verdict.findings, 1):
        if f.xy_m is not None and f.severity != "note":
            place = at(np.array(f.xy_m))
            page.axes.plot(*place, marker="^", ms=6, mfc="w", mec=COLOURS[f.severity], mew=1.3, zorder=6)
            _badge(page, place, number, f.severity, taken)
    return float(base + 9)


def ends_of(line: CheckedLine, finding: Finding) -> tuple[Float64, Float64]:
    """Give the places, local metres, where a stretch begins and ends, in the order walked."""
    ends = _stretch(line, finding, 0.0)
    return ends[0], ends[-1]


def _stretch(line: CheckedLine, f: Finding, least_m: float) -> Float64:
    """Path of a finding's stretch, local metres (point, 2), at least so long; the whole line where it has none."""
    along, last = line.along_m, float(line.along_m[-1])
    if not (math.isfinite(f.from_m) and math.isfinite(f.to_m)):
        return line.xy_m
    short = max(0.0, least_m - (f.to_m - f.from_m))
    low, high = max(0.0, f.from_m - 0.5 * short), min(last, f.to_m + 0.5 * short)
    at = np.linspace(low, high, 21)
    return np.column_stack([np.interp(at, along, line.xy_m[:, axis]) for axis in (0, 1)])


def _band(page: Page, path: Float64, severity: Severity) -> None:
    colour = COLOURS[severity]
    if severity == "walk again":
        page.axes.plot(*path.T, color=colour, lw=3.6, solid_capstyle="butt", zorder=4)
        page.axes.plot(*path.T, color="w", lw=1.0, dashes=(1.5, 1.5), dash_capstyle="butt", zorder=5)
    else:
        page.axes.plot(*path.T, color=colour, lw=3.0, dashes=(1.2, 0.7), dash_capstyle="butt", zorder=3)


def _badge(
    page: Page, place: Float64, number: int, severity: Severity, taken: list[Float64], across: bool = False
) -> None:
    """Write the number of the list near a place, where it covers no other; above it where the line runs across."""
    if len(taken) >= _MOST_BADGES:
        return
    near = ((0, -1), (0, 1), (1, 0), (-1, 0)) if across else ((1, 0), (-1, 0), (0, -1), (0, 1))
    for step in (*near, (1, -1), (-1, 1), (2, 0), (-2, 0), (0, -2), (0, 2)):
        spot = place + 2.2 * _BADGE_MM * np.array(step)
        if all(np.hypot(*(spot - other)) > 2.1 * _BADGE_MM for other in taken):
            break
    else:
        return
    taken.append(spot)
    page.axes.plot(*np.stack([place, spot]).T, color="#11181c", lw=0.5, zorder=6)
    style = "circle,pad=0.25" if severity == "walk again" else "square,pad=0.3"
    page.axes.text(
        *spot, str(number), size=7, color="w", weight="bold", ha="center", va="center", zorder=7,
        bbox={"boxstyle": style, "facecolor": COLOURS[severity], "edgecolor": "w", "lw": 0.5},
    )  # fmt: skip


def _axes(page: Page, low: Float64, high: Float64, at: At) -> None:
    """Ticks in metres along the lower and the left side."""
    step = round_step(float(max(high - low)), 12)
    for value in multiples(float(low[0]), float(high[0]), step):
        x, y = at(np.array([value, low[1]]))
        page.axes.plot([x, x], [y + 1.2, y + 2.4], color="k", lw=0.6)
        page.axes.text(x, y + 5.6, tick_text(value, step), size=6.5, ha="center")
    for value in multiples(float(low[1]), float(high[1]), step):
        x, y = at(np.array([low[0], value]))
        page.axes.plot([x - 2.4, x - 1.2], [y, y], color="k", lw=0.6)
        page.axes.text(x - 3, y, tick_text(value, step), size=6.5, ha="right", va="center")
    x, y = at(np.array([high[0], low[1]]))
    page.axes.text(x + 4, y + 5.6, "m", size=6.5, ha="left")


def legend(page: Page, y: float, severities: Sequence[Severity]) -> None:
    """Say what the patterns mean, in one row."""
    words = {"walk again": "walk again", "attention": "look at", "note": "note"}
    x = MARGIN_MM
    for severity in severities:
        _band(page, np.array([[x, y - 1.1], [x + 12, y - 1.1]]), severity)
        page.text(x + 14, y, words[severity], size=8)
        x += 40
    page.text(x, y, "Numbers as in the list; a dot is where a line starts.", size=8)
