"""The grid plan on the field sheet: area, lines with arrows and names, pegs, north where it is known."""

from __future__ import annotations

import math

from gridmap.deliver.drawing import multiples, round_step, tick_text
from gridmap.deliver.sheet_page import MARGIN_MM, WIDE_MM, Page
from gridmap.plan.frame import box
from gridmap.plan.survey import Plan

_COLOURS = {"Y": "#1a62a0", "X": "#b0511c"}
_NAMED, _NAME_MM = 14, 7.0
"""About so many lines of each direction get their names, so far apart on paper; more would run into each other."""
_CLOSEST_MM = 1.0
"""Lines closer than this on paper are not all drawn: the plan would be one block of ink."""


def draw_plan(page: Page, plan: Plan, top_mm: float, bottom_mm: float) -> float:
    """Draw the plan to one scale below a height of the page and above another; return where it ends, millimetres."""
    (west, south), _, (east, north), _ = box(plan.frame.corners_m)
    wide, high = WIDE_MM - 2 * MARGIN_MM - 22, bottom_mm - top_mm - 22
    scale = min(wide / (east - west), high / (north - south))
    left = MARGIN_MM + 14 + 0.5 * (wide - scale * (east - west))
    base = top_mm + 8 + scale * (north - south)

    def at(x: float, y: float) -> tuple[float, float]:
        return left + scale * (x - west), base - scale * (y - south)

    outline = [at(*p) for p in (*plan.frame.corners_m, plan.frame.corners_m[0])]
    page.axes.fill(*zip(*outline, strict=True), facecolor="#f2f4f5", edgecolor="#1c242a", lw=1.0)
    _axes(page, plan, at)
    hidden = False
    for axis in "YX":
        lines = [line for line in plan.lines if line.name.startswith(axis)]
        across_mm = scale * ((east - west) if axis == "Y" else (north - south))
        step = max(1, math.ceil(len(lines) / min(_NAMED, max(1.0, across_mm / _NAME_MM))))
        step += step % 2 == 0  # odd, so that both directions of a zig-zag show
        drawn = scale * plan.figure("line_spacing_m") >= _CLOSEST_MM
        hidden = hidden or not drawn
        for k, line in enumerate(lines):
            named = k % step == 0
            if not (named or drawn):
                continue
            start, end = at(*line.start_m), at(*line.end_m)
            page.axes.plot(*zip(start, end, strict=True), color=_COLOURS[axis], lw=0.9 if named else 0.3)
            if named:
                middle = [0.45 * a + 0.55 * b for a, b in zip(start, end, strict=True)]
                page.axes.annotate(
                    "", middle, start, arrowprops={"arrowstyle": "-|>", "color": _COLOURS[axis], "lw": 0.9}
                )
                page.axes.text(
                    *start, line.name, size=5.5, color=_COLOURS[axis], ha="center", va="center",
                    rotation=90 if axis == "Y" else 0, bbox={"facecolor": "w", "edgecolor": "none", "pad": 0.6},
                )  # fmt: skip
    for peg in plan.frame.control:
        x, y = at(peg.x_m, peg.y_m)
        page.axes.plot([x], [y], marker="^", color="#b01c5c", ms=6, zorder=5)
        page.axes.text(x + 1.5, y - 1.5, peg.name[:12], size=7, color="#b01c5c", weight="bold")
    if plan.frame.to_map is not None:
        turn = math.radians(plan.frame.to_map.rotation_deg)
        x, y = WIDE_MM - MARGIN_MM - 4, top_mm + 16
        dx, dy = 7 * math.sin(turn), 7 * math.cos(turn)
        page.axes.annotate(
            "", (x + dx, y - dy), (x - dx, y + dy), arrowprops={"arrowstyle": "-|>", "color": "k"}
        )
        page.axes.text(x + 1.35 * dx, y - 1.35 * dy, "N", size=8, ha="center", va="center", weight="bold")
    if hidden:
        page.axes.text(
            WIDE_MM / 2, base + 15, "Only some lines are drawn; all are listed.", size=7.5, ha="center"
        )
    return base + 14 + 4 * hidden


def _axes(page: Page, plan: Plan, at: object) -> None:
    """Ticks in metres along the lower and the left side, and how to check the corners."""
    assert callable(at)
    (west, south), _, (east, north), _ = box(plan.frame.corners_m)
    step = round_step(max(east - west, north - south), 12)
    for value in multiples(west, east, step):
        x, y = at(value, south)
        page.axes.plot([x, x], [y + 3.2, y + 4.4], color="k", lw=0.6)
        page.axes.text(x, y + 7.4, tick_text(value, step), size=6.5, ha="center")
    for value in multiples(south, north, step):
        x, y = at(west, value)
        page.axes.plot([x - 4.4, x - 3.2], [y, y], color="k", lw=0.6)
        page.axes.text(x - 5, y, tick_text(value, step), size=6.5, ha="right", va="center")
    x, y = at(west, south)
    diagonal = math.hypot(east - west, north - south)
    page.axes.text(
        WIDE_MM / 2, y + 11.4,
        f"x and y in metres. Check both diagonals of {east - west:g} by {north - south:g} m: {diagonal:.3f} m.",
        size=7.5, ha="center",
    )  # fmt: skip
