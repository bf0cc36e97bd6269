"""Figures of the report that are no plan: sheet of slices, coverage and reach, velocities."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from PIL import Image

from gridmap.deliver import drawing
from gridmap.deliver.caution import CAUTION_SHORT
from gridmap.deliver.colours import table
from gridmap.deliver.report_maps import (
    INK,
    RULE,
    SOFT,
    WIDE_MM,
    map_area,
    map_scale,
    north_arrow,
    put_frame,
    put_raster,
    scale_bar,
    slice_range,
)
from gridmap.deliver.svg_sheet import MM, SvgSheet
from gridmap.model import Float32, VelocityModel
from gridmap.read.made_map import MadeMap

_GAP_MM = 4.0
_MOST_HIGH_MM = 218.0


def slice_sheet(made: MadeMap, chosen: Sequence[int], title: str) -> tuple[SvgSheet, float]:
    """Draw chosen slices side by side at one scale, as many in a row as reads well.

    Returns
    -------
    sheet : SvgSheet
        One page at most.
    scale : float
        The number after "1:".
    """
    across, scale, area_high = 1, math.inf, 0.0
    for n in (2, 3, 4, 5):
        cell_wide = (WIDE_MM - 0.4 - (n - 1) * _GAP_MM) / n
        rows = math.ceil(len(chosen) / n)
        cell_high = (_MOST_HIGH_MM - 24) / rows - 8
        s = map_scale(made.raster, cell_wide, max(cell_high, 8.0))
        if s <= scale:
            across, scale = n, s
    area = map_area(made.raster, scale, 0, 0)
    wide, area_high = area.width_px / MM, area.height_px / MM
    pitch = (WIDE_MM - 0.4 - across * wide) / max(across - 1, 1) + wide
    rows = math.ceil(len(chosen) / across)
    high_mm = rows * (area_high + 8) + 19
    sheet = SvgSheet(WIDE_MM, high_mm, title, "slices")
    ends = slice_range(made)
    for place, k in enumerate(chosen):
        row, column = divmod(place, across)
        here = map_area(made.raster, scale, 0.2 + column * pitch, 5 + row * (area_high + 8))
        put_raster(sheet, here, made.slices.values[k], ends)
        put_frame(sheet, here, made.raster, ticks=False)
        sheet.text(here.left_px, here.top_px - 8, made.slices.windows[k].label, size_pt=7.5, bold=True)
    y = (5 + rows * (area_high + 8)) * MM
    length = scale_bar(sheet, 6, y, area.px_per_m, 300)
    sheet.text(6 + length + 70, y + 10, f"1:{scale:g} on A4", size_pt=7.5, bold=True)
    colour_bar(sheet, 800, y - 2, 560, ends, "cividis", made.slices.quantity)
    north_arrow(sheet, WIDE_MM * MM - 40, y + 40, "N" if made.raster.crs_wkt is not None else "y")
    sheet.text(0, y + 118, CAUTION_SHORT, size_pt=6.5, colour=SOFT)
    return sheet, scale


def colour_bar(
    sheet: SvgSheet, x: float, y: float, wide: float, ends: tuple[float, float], name: str, words: str
) -> None:
    """Draw a level colour bar with its ends and what it stands for."""
    strip = np.repeat(table(name)[None, :, :], 2, axis=0)
    sheet.image(x, y, wide, 26, Image.fromarray(np.ascontiguousarray(strip)))
    sheet.box(x, y, wide, 26, "none", INK)
    low, high = (drawing.short_number(v) for v in ends)
    sheet.text(x, y + 54, f"≤ {low}", size_pt=6.5)
    sheet.text(x + wide, y + 54, f"≥ {high}", size_pt=6.5, anchor="end")
    sheet.text(x, y + 84, words[:90], size_pt=6.5, colour=SOFT)


def reach_maps(made: MadeMap, title: str) -> tuple[SvgSheet, float]:
    """Draw coverage and reach side by side."""
    wide = 0.5 * (WIDE_MM - 8)
    scale = map_scale(made.raster, wide, 150)
    left = map_area(made.raster, scale, 0, 5)
    right = map_area(made.raster, scale, wide + 8, 5)
    sheet = SvgSheet(WIDE_MM, left.height_px / MM + 26, title, "reach")
    bottom = left.top_px + left.height_px
    for area, values, words in (
        (left, made.coverage_m, "distance to the nearest trace, m"),
        (right, made.reach_m, "reach, m below the ground"),
    ):
        ends = _ends(values)
        put_raster(sheet, area, values, ends, "viridis")
        put_frame(sheet, area, made.raster, ticks=False)
        sheet.text(area.left_px, area.top_px - 8, words[:1].upper() + words[1:], size_pt=7.5, bold=True)
        colour_bar(sheet, area.left_px, bottom + 20, 500, ends, "viridis", "")
    y = bottom + 112
    length = scale_bar(sheet, 6, y, left.px_per_m, 300)
    sheet.text(6 + length + 70, y + 10, f"1:{scale:g} on A4", size_pt=7.5, bold=True)
    north_arrow(sheet, WIDE_MM * MM - 40, y - 10, "N" if made.raster.crs_wkt is not None else "y")
    sheet.text(0, y + 88, CAUTION_SHORT, size_pt=6.5, colour=SOFT)
    return sheet, scale


def velocity_figure(fits: Sequence[Any], velocity: VelocityModel, title: str) -> SvgSheet:
    """Draw the velocities of the hyperbolas that count against two-way time, and the velocity used.

    Parameters
    ----------
    fits : sequence of mapping
        With time_ns, velocity_m_per_ns and sd_m_per_ns; at least one.
    velocity : VelocityModel
        As used; drawn as the RMS velocity down to each time, which is what a hyperbola shows (Dix 1955).
    title : str
        For who cannot see it.
    """
    sheet = SvgSheet(WIDE_MM, 90, title, "velocity")
    time = np.array([f["time_ns"] for f in fits], dtype=float)
    v = np.array([f["velocity_m_per_ns"] for f in fits], dtype=float)
    sd = np.array([f["sd_m_per_ns"] for f in fits], dtype=float)
    latest = float(time.max()) * 1.08
    low = min(float((v - sd).min()), velocity.mean_m_per_ns() - 2 * velocity.sd_m_per_ns) * 0.98
    high = max(float((v + sd).max()), velocity.mean_m_per_ns() + 2 * velocity.sd_m_per_ns) * 1.02
    left, top, right, bottom = 150.0, 30.0, 1680.0, 740.0

    def at(t: float, speed: float) -> tuple[float, float]:
        return left + t / latest * (right - left), bottom - (speed - low) / (high - low) * (bottom - top)

    grid = np.linspace(0.0, latest, 60)
    used = velocity.rms_m_per_ns(velocity.depth_m(grid))
    band = [at(t, s + velocity.sd_m_per_ns) for t, s in zip(grid, used, strict=True)]
    band += [at(t, s - velocity.sd_m_per_ns) for t, s in zip(grid[::-1], used[::-1], strict=True)]
    sheet.polygon(band, "#f3dba8", 0.8)
    step = drawing.round_step(high - low, 8)
    for value in drawing.multiples(low, high, step):
        y = at(0.0, value)[1]
        sheet.line([(left, y), (right, y)], RULE, 0.08)
        sheet.text(left - 12, y + 8, drawing.tick_text(value, step), size_pt=7, anchor="end")
    step = drawing.round_step(latest, 10)
    for value in drawing.multiples(0.0, latest, step):
        x = at(value, low)[0]
        sheet.line([(x, bottom), (x, bottom + 10)], INK, 0.15)
        sheet.text(x, bottom + 38, drawing.tick_text(value, step), size_pt=7, anchor="middle")
    sheet.line([at(t, s) for t, s in zip(grid, used, strict=True)], "#8a5a00", 0.5)
    for t, speed, one in zip(time, v, sd, strict=True):
        sheet.line([at(t, speed - one), at(t, speed + one)], "#1f5f8b", 0.12)
    for t, speed in zip(time, v, strict=True):
        sheet.circle(*at(t, speed), 8, "#ffffff", "#1f5f8b", 0.3)
    sheet.box(left, top, right - left, bottom - top, "none", INK)
    sheet.text(left - 118, 0.5 * (top + bottom), "Velocity, m/ns", size_pt=7.5, anchor="middle", turn_deg=-90)
    sheet.text(0.5 * (left + right), bottom + 74, "Two-way time, ns", size_pt=7.5, anchor="middle")
    sheet.text(0, bottom + 150, CAUTION_SHORT, size_pt=6.5, colour=SOFT)
    return sheet


def _ends(values: Float32) -> tuple[float, float]:
    known = values[np.isfinite(values)]
    if not known.size:
        return 0.0, 1.0
    low, high = (float(v) for v in np.percentile(known, [1.0, 99.0]))
    return (low, high) if high > low else (low, low + 1.0)
