"""Section of key radargrams, with the hyperbolas that count and the features that the lines cross."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from PIL import Image

from gridmap.deliver import drawing
from gridmap.deliver.caution import CAUTION_SHORT
from gridmap.deliver.marking import marking_colour
from gridmap.deliver.report_blocks import Block, Figure, Section, Text
from gridmap.deliver.report_maps import INK, SOFT, WIDE_MM, label
from gridmap.deliver.report_told import Told, text
from gridmap.deliver.svg_sheet import SvgSheet
from gridmap.model import VelocityModel

NEAR_M = 0.1
"""A line that passes the end of a feature this near crosses it, metres."""
_CURVE = "#0b6fa4"
_BOX = (130.0, 60.0, 1570.0, 625.0)
"""Left, top, right and bottom of the data, tenths of a millimetre."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a feature lies on a line: from and to along it, metres, and depth of its top."""

    name: str
    colour: str
    from_m: float
    to_m: float
    depth_m: float


def profiles(told: Told) -> Section:
    """Show each radargram that the folder keeps."""
    w, kept = told.words, told.made.profiles
    blocks: list[Block] = [Text(w("profiles.about"))]
    rows = [
        row
        for row in kept.get("profiles", [])
        if (told.made.folder / "profiles" / str(row["file"])).is_file()
    ]
    for k, row in enumerate(rows, 1):
        marks = marks_on(told, row)
        parts = []
        if row["hyperbolas"]:
            parts.append(w("profiles.with_hyperbolas", n=len(row["hyperbolas"])))
        if marks:
            parts.append(w("profiles.with_features", names=", ".join(dict.fromkeys(m.name for m in marks))))
        said = w("profiles.line", name=text(row["line"]), words=", ".join(parts) or w("profiles.plain"))
        alt = w("profiles.alt", name=text(row["line"]), words=", ".join(parts) or w("profiles.plain"))
        drawn = draw_profile(told, kept, row, marks, f"profile_{k}")
        blocks.append(Figure(f"profile_{k}", said, alt, drawn.svg()))
    if not rows:
        blocks.append(Text(w("profiles.none")))
    return Section("profiles", w("profiles.heading"), tuple(blocks))


def marks_on(told: Told, row: Mapping[str, Any]) -> list[Mark]:
    """Find the features that a line crosses, as they stand now."""
    walked = told.made.layer("lines_walked")
    paths = [
        shapely.force_2d(r.geometry) for _, r in walked.iterrows() if text(r["name"]) == text(row["line"])
    ]
    if not paths or paths[0] is None or paths[0].length == 0:
        return []
    path, first = paths[0], float(row["first_m"])
    scale = (float(row["last_m"]) - first) / path.length
    marks = []
    for feature in told.rows():
        shape = shapely.force_2d(feature.geometry)
        for part in _crossings(path, shape):
            at = [path.project(shapely.Point(xy)) * scale + first for xy in shapely.get_coordinates(part)]
            depth = _depth_at(feature, shape, part)
            if np.isfinite(depth):
                marks.append(
                    Mark(
                        text(feature.get("id")) or "-",
                        marking_colour(feature["class"]),
                        min(at),
                        max(at),
                        depth,
                    )
                )
    return marks


def _crossings(path: shapely.Geometry, shape: shapely.Geometry) -> list[shapely.Geometry]:
    """Where a line crosses a feature, or passes its end within `NEAR_M`: features end within their lines."""
    crossed = [part for part in shapely.get_parts(shapely.intersection(path, shape)) if not part.is_empty]
    if not crossed and shapely.distance(path, shape) <= NEAR_M:
        return [path.interpolate(path.project(shapely.Point(shapely.shortest_line(shape, path).coords[0])))]
    return crossed


def draw_profile(
    told: Told, kept: Mapping[str, Any], row: Mapping[str, Any], marks: Sequence[Mark], key: str
) -> SvgSheet:
    """Draw one radargram with distance, time and depth, curves and marks."""
    velocity = told.made.velocity()
    left, top, right, bottom = _BOX
    first, last = float(row["first_m"]), float(row["last_m"])
    end_ns = float(kept["interval_ns"]) * (int(kept["samples"]) - 1)
    sheet = SvgSheet(WIDE_MM, 67, text(row["line"]), key)

    def at(along_m: float, time_ns: float) -> tuple[float, float]:
        return left + (along_m - first) / (last - first) * (right - left), top + time_ns / end_ns * (
            bottom - top
        )

    with Image.open(told.made.folder / "profiles" / str(row["file"])) as picture:
        grey = picture.convert("L")
    sheet.image(left, top, right - left, bottom - top, grey)
    sheet.clipped(left, top, right - left, bottom - top)
    for fit in row["hyperbolas"]:
        points = [at(a, t) for a, t in fit["curve"]]
        if len(points) > 1:
            sheet.line(points, _CURVE, 0.35)
    for fit in row["hyperbolas"]:
        if fit["curve"]:
            x, y = at(*fit["curve"][-1])
            label(sheet, min(x - 20, right - 75), y + 24, f"{fit['velocity_m_per_ns']:.3f}", _CURVE, 6)
    for mark in marks:
        _mark(sheet, at, mark, velocity)
    sheet.unclipped()
    sheet.box(left, top, right - left, bottom - top, "none", INK)
    _axes(sheet, at, (first, last), end_ns, velocity)
    return sheet


def _mark(sheet: SvgSheet, at: Any, mark: Mark, velocity: VelocityModel) -> None:
    time = float(velocity.two_way_ns(mark.depth_m))
    (x0, y), (x1, _) = at(mark.from_m, time), at(mark.to_m, time)
    if x1 - x0 > 25:
        sheet.line([(x0, y), (x1, y)], mark.colour, 0.6)
        for x in (x0, x1):
            sheet.line([(x, y - 14), (x, y + 14)], mark.colour, 0.4)
    else:
        x = 0.5 * (x0 + x1)
        sheet.polygon([(x, y), (x - 14, y - 24), (x + 14, y - 24)], mark.colour, 1.0, "#ffffff", 0.2)
    label(sheet, x1 + 20, y - 6, mark.name, mark.colour, 7)


def _axes(
    sheet: SvgSheet, at: Any, ends: tuple[float, float], end_ns: float, velocity: VelocityModel
) -> None:
    left, top, right, bottom = _BOX
    step = drawing.round_step(ends[1] - ends[0], 12)
    for value in drawing.multiples(*ends, step):
        x = at(value, 0.0)[0]
        sheet.line([(x, top - 10), (x, top)], INK, 0.15)
        sheet.text(x, top - 15, drawing.tick_text(value, step), size_pt=6.5, anchor="middle")
    step = drawing.round_step(end_ns, 8)
    for value in drawing.multiples(0.0, end_ns, step):
        y = at(ends[0], value)[1]
        sheet.line([(left - 10, y), (left, y)], INK, 0.15)
        sheet.text(left - 15, y + 8, drawing.tick_text(value, step), size_pt=6.5, anchor="end")
    deepest = float(velocity.depth_m(end_ns))
    step = drawing.round_step(deepest, 8)
    for value in drawing.multiples(0.0, deepest, step):
        y = at(ends[0], float(velocity.two_way_ns(value)))[1]
        sheet.line([(right, y), (right + 10, y)], INK, 0.15)
        sheet.text(right + 15, y + 8, drawing.tick_text(value, step), size_pt=6.5)
    middle = 0.5 * (top + bottom)
    sheet.text(left - 95, middle, "Two-way time, ns", size_pt=7, anchor="middle", turn_deg=-90)
    sheet.text(right + 100, middle, "Depth, m", size_pt=7, anchor="middle", turn_deg=90)
    sheet.text(0.5 * (left + right), 21, "Distance along the line, m", size_pt=7, anchor="middle")
    sheet.text(left, bottom + 34, CAUTION_SHORT, size_pt=6.5, colour=SOFT)


def _depth_at(feature: Any, shape: shapely.Geometry, part: shapely.Geometry) -> float:
    """Depth of a feature where a line crosses it: between its ends for a long one, else its one depth."""

    def known(key: str) -> float:
        value = feature.get(key)
        return float(value) if value is not None and value == value else float("nan")

    said, start, end = known("depth_said_m"), known("depth_start_m"), known("depth_end_m")
    if np.isfinite(said):
        return said
    if np.isfinite(start) and np.isfinite(end) and shape.geom_type == "LineString":
        share = shape.project(shapely.centroid(part)) / max(shape.length, 1e-9)
        return float(start + share * (end - start))
    return known("depth_top_m")
