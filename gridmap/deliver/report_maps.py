"""Maps of the report at a true scale: frame, ticks, scale bar, north arrow, lines walked, features."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from PIL import Image

from gridmap.deliver import drawing
from gridmap.deliver.caution import CAUTION_SHORT
from gridmap.deliver.colours import table, to_index
from gridmap.deliver.label_places import LabelPlaces
from gridmap.deliver.marking import marking_colour, short_label
from gridmap.deliver.plot_area import PlotArea
from gridmap.deliver.svg_sheet import MM, SvgSheet
from gridmap.model import Float32, Float64, RasterGrid
from gridmap.read.made_map import MadeMap

SCALES = tuple(k * 10**n for n in range(1, 5) for k in (1, 2, 2.5, 5))
"""Scales of a map: 1 to 10, 20, 25, 50, 100, ..."""
WIDE_MM = 170.0
"""Width between the margins of an A4 page."""
INK, SOFT, RULE, WALKED = "#1c242a", "#5c6770", "#c4cace", "#c3cad0"
_LEFT_MM, _FOOT_MM = 15.0, 18.5
KINDS = ("linear", "outlines", "points")


def standing_rows(made: MadeMap) -> list[Any]:
    """Features that no person rejected: lines, areas, points, in the file's order."""
    rows: list[Any] = []
    for name in KINDS:
        frame = made.layer(name)
        rows += [
            row for _, row in frame.iterrows() if _shape(row) is not None and row.get("status") != "rejected"
        ]
    return rows


def map_scale(raster: RasterGrid, wide_mm: float, high_mm: float) -> float:
    """Choose the largest scale at which the map fits, as the number after "1:"."""
    west, south, east, north = raster.bounds
    need = max(1000 * (east - west) / wide_mm, 1000 * (north - south) / high_mm)
    return float(next((s for s in SCALES if s >= need), math.ceil(need)))


def map_area(raster: RasterGrid, scale: float, left_mm: float, top_mm: float) -> PlotArea:
    """Place the map at a scale; pixels of the area are tenths of a millimetre."""
    per_m = 1000 / scale * MM
    return PlotArea(
        round(left_mm * MM), round(top_mm * MM), round(raster.columns * raster.cell_m * per_m),
        round(raster.rows * raster.cell_m * per_m), per_m, raster.west_m, raster.north_m,
    )  # fmt: skip


def plan_map(
    made: MadeMap, title: str, key: str, most_high_mm: float, values: Float32 | None = None
) -> tuple[SvgSheet, float]:
    """Draw what was found over the lines walked, or over one slice.

    Parameters
    ----------
    made : MadeMap
        The map.
    title, key : str
        For who cannot see it; name of the figure.
    most_high_mm : float
        Height that the drawing may take.
    values : (row, column) float32 or None
        A slice to lie under it.

    Returns
    -------
    sheet : SvgSheet
        `WIDE_MM` wide.
    scale : float
        The number after "1:".
    """
    scale = map_scale(made.raster, WIDE_MM - _LEFT_MM - 2, most_high_mm - _FOOT_MM - 5)
    free = WIDE_MM - _LEFT_MM - 2 - 1000 / scale * made.raster.columns * made.raster.cell_m
    area = map_area(made.raster, scale, _LEFT_MM + 0.5 * free, 4)
    high_mm = (area.top_px + area.height_px) / MM + _FOOT_MM
    sheet = SvgSheet(WIDE_MM, high_mm, title, key)
    sheet.clipped(area.left_px, area.top_px, area.width_px, area.height_px)
    if values is not None:
        put_raster(sheet, area, values, slice_range(made))
    for path in walked_paths(made):
        sheet.line(area.to_px(path), WALKED if values is None else "#ffffff", 0.12)
    rows = standing_rows(made)
    for row in rows:
        put_feature(sheet, area, row)
    sheet.unclipped()
    for _, point in made.layer("control").iterrows():
        _control(sheet, area, point)
    put_labels(sheet, area, rows)
    put_frame(sheet, area, made.raster)
    put_foot(sheet, area, made.raster, scale, _legend(rows, made, values))
    return sheet, scale


def slice_range(made: MadeMap) -> tuple[float, float]:
    """One colour scale for every slice of the report, the scale of the pictures."""
    from gridmap.deliver.colours import colour_range

    return colour_range(made.slices.values)


def walked_paths(made: MadeMap) -> Iterator[Float64]:
    """Paths of the lines walked, (vertex, 2) map metres."""
    for shape in made.layer("lines_walked").geometry:
        if shape is not None and not shape.is_empty:
            yield shapely.get_coordinates(shape)


def put_raster(
    sheet: SvgSheet, area: PlotArea, values: Float32, ends: tuple[float, float], table_name: str = "cividis"
) -> None:
    """Lay a raster into the map; blank cells are hatched."""
    sheet.hatched(area.left_px, area.top_px, area.width_px, area.height_px)
    shade = np.zeros((*values.shape, 4), np.uint8)
    shade[..., :3] = table(table_name)[to_index(values, ends)]
    shade[..., 3] = np.where(np.isnan(values), 0, 255)
    sheet.image(area.left_px, area.top_px, area.width_px, area.height_px, Image.fromarray(shade))


def put_feature(sheet: SvgSheet, area: PlotArea, row: Any, width_mm: float = 0.7) -> None:
    """Draw one feature in the colour of its class."""
    colour = marking_colour(row["class"])
    for part in shapely.get_parts(_shape(row)):
        points = area.to_px(shapely.get_coordinates(part.exterior if part.geom_type == "Polygon" else part))
        if part.geom_type == "Polygon":
            sheet.polygon(points, colour, 0.16, colour, 0.75 * width_mm)
        elif len(points) > 1:
            sheet.line(points, colour, width_mm)
        else:
            sheet.circle(float(points[0, 0]), float(points[0, 1]), 11, "none", colour, 0.5)


def put_labels(sheet: SvgSheet, area: PlotArea, rows: Sequence[Any]) -> None:
    """Write identity, depth and standard deviation beside each feature."""
    places = LabelPlaces(area, drawing.font(27))
    paths = [_path(area, row) for row in rows]
    for path in paths:
        places.block(path)
    for row, path in zip(rows, paths, strict=True):
        words = feature_label(row)
        x, y = places.take(words, path)
        label(sheet, x, y + 24, words, marking_colour(row["class"]))


def label(sheet: SvgSheet, x: float, y: float, words: str, colour: str, size_pt: float = 7.5) -> None:
    """Write words on a faint white ground, so that they are read over any picture."""
    wide = text_width(words, size_pt) + 12
    sheet.box(x - 6, y - 2.9 * size_pt, wide, 3.9 * size_pt, "#ffffff", opacity=0.8)
    sheet.text(x, y, words, size_pt=size_pt, colour=colour, bold=True)


def text_width(words: str, size_pt: float) -> float:
    """Width of a row in the drawing, by a font that is somewhat wider than the one used."""
    return 0.9 * drawing.font(30).getlength(words) / 30 * size_pt * 25.4 / 72 * MM


def feature_label(row: Any) -> str:
    """Identity and depth; a depth that a person states stands before the measured one."""
    said = row.get("depth_said_m")
    name = row.get("id") or "drawn"
    if isinstance(said, float) and math.isfinite(said):
        return f"{name} {said:.2f} m (stated)"
    measured = row.get("depth_top_m")
    if measured is None or measured != measured:
        return f"{name} depth unknown"
    return short_label({**row.to_dict(), "id": name}).replace("\N{PLUS-MINUS SIGN}", " \N{PLUS-MINUS SIGN} ")


def put_frame(sheet: SvgSheet, area: PlotArea, raster: RasterGrid, *, ticks: bool = True) -> None:
    """Draw the frame and, outside it, round co-ordinates."""
    sheet.box(area.left_px, area.top_px, area.width_px, area.height_px, "none", INK)
    if not ticks:
        return
    west, south, east, north = raster.bounds
    step = drawing.round_step(max(east - west, north - south), 7)
    bottom = area.top_px + area.height_px
    for value in drawing.multiples(west, east, step):
        x = float(area.to_px(np.array([value, south]))[0])
        sheet.line([(x, bottom), (x, bottom + 10)], INK, 0.15)
        sheet.text(x, bottom + 35, drawing.tick_text(value, step), size_pt=6.5, anchor="middle")
    for value in drawing.multiples(south, north, step):
        y = float(area.to_px(np.array([west, value]))[1])
        sheet.line([(area.left_px - 10, y), (area.left_px, y)], INK, 0.15)
        sheet.text(area.left_px - 14, y + 8, drawing.tick_text(value, step), size_pt=6.5, anchor="end")


def put_foot(
    sheet: SvgSheet, area: PlotArea, raster: RasterGrid, scale: float, legend: Sequence[tuple[str, str, str]]
) -> None:
    """Write scale, arrow, legend and caution below the map."""
    y = area.top_px + area.height_px + 62
    left = _LEFT_MM * MM
    length = scale_bar(sheet, left, y, area.px_per_m, 380)
    sheet.text(left + length + 70, y + 10, f"1:{scale:g} on A4", size_pt=7.5, bold=True)
    start = x = left + length + 330
    for kind, colour, words in legend:
        if x + 60 + text_width(words, 7) > WIDE_MM * MM - 90:
            x, y = start, y + 36
        swatch(sheet, x, y + 1, kind, colour)
        sheet.text(x + 60, y + 9, words, size_pt=7)
        x += 60 + text_width(words, 7) + 26
    y = area.top_px + area.height_px + 62
    right = WIDE_MM * MM - 40
    mapped = raster.crs_wkt is not None
    north_arrow(sheet, right, y + 22, "N" if mapped else "y")
    names = ("Easting", "northing") if mapped else ("Local x", "local y")
    sheet.text(left, y + 70, f"{names[0]} and {names[1]} in metres.", size_pt=6.5, colour=SOFT)
    sheet.text(left, y + 100, CAUTION_SHORT, size_pt=6.5, colour=SOFT)


def scale_bar(sheet: SvgSheet, x: float, y: float, per_m: float, most: float) -> float:
    """Draw a scale bar of a round length and return its length in the drawing."""
    power = 10.0 ** math.floor(math.log10(most / per_m))
    metres = max(m * power for m in (1.0, 2.0, 5.0) if m * power <= most / per_m * (1 + 1e-9))
    length = metres * per_m
    sheet.box(x, y, length, 9, "#ffffff", INK)
    sheet.box(x, y, length / 2, 9, INK, INK)
    for share, words in ((0.0, "0"), (0.5, f"{metres / 2:g}"), (1.0, f"{metres:g} m")):
        sheet.text(x + share * length, y + 36, words, size_pt=6.5, anchor="middle")
    return length


def north_arrow(sheet: SvgSheet, x: float, y: float, letter: str) -> None:
    """Draw an arrow up the page."""
    sheet.polygon([(x, y - 38), (x - 17, y + 30), (x, y + 14)], INK)
    sheet.polygon([(x, y - 38), (x + 17, y + 30), (x, y + 14)], "#ffffff", 1.0, INK, 0.15)
    sheet.text(x, y - 43, letter, size_pt=8, anchor="middle", bold=True)


def swatch(sheet: SvgSheet, x: float, y: float, kind: str, colour: str) -> None:
    """Draw the sample of a legend, 5 mm wide."""
    if kind == "area":
        sheet.polygon(
            [(x, y - 10), (x + 50, y - 10), (x + 50, y + 14), (x, y + 14)], colour, 0.16, colour, 0.5
        )
    elif kind == "spot":
        sheet.circle(x + 25, y + 2, 11, "none", colour, 0.5)
    elif kind == "hatch":
        sheet.hatched(x, y - 10, 50, 24)
    elif kind == "peg":
        sheet.polygon([(x + 25, y - 12), (x + 12, y + 12), (x + 38, y + 12)], "#7a1f5c")
    else:
        sheet.line([(x, y + 3), (x + 50, y + 3)], colour, 0.12 if kind == "thin" else 0.7)


def _legend(rows: Sequence[Any], made: MadeMap, values: Float32 | None) -> list[tuple[str, str, str]]:
    colour = marking_colour("")
    marks = [("thin", WALKED if values is None else SOFT, "line walked")]
    if any(shapely.get_type_id(_shape(r)) in (1, 5) for r in rows):
        marks.insert(0, ("line", colour, "long echo"))
    if any(shapely.get_type_id(_shape(r)) in (3, 6) for r in rows):
        marks.insert(0, ("area", colour, "area of echo"))
    if any(shapely.get_type_id(_shape(r)) in (0, 4) for r in rows):
        marks.insert(0, ("spot", colour, "small echo"))
    if len(made.layer("control")):
        marks.append(("peg", INK, "control point"))
    if values is not None:
        marks.append(("hatch", INK, "no data"))
    return marks


def _control(sheet: SvgSheet, area: PlotArea, point: Any) -> None:
    if _shape(point) is None:
        return
    x, y = (float(v) for v in area.to_px(shapely.get_coordinates(_shape(point))[0]))
    inside = (
        area.left_px <= x <= area.left_px + area.width_px and area.top_px <= y <= area.top_px + area.height_px
    )
    if inside:
        sheet.polygon([(x, y - 12), (x - 12, y + 10), (x + 12, y + 10)], "#7a1f5c", 1.0, "#ffffff", 0.2)
        label(sheet, x + 20, y + 9, str(point["name"])[:24], "#7a1f5c", 6.5)


def _path(area: PlotArea, row: Any) -> Float64:
    return area.to_px(shapely.get_coordinates(_shape(row)))


def _shape(row: Any) -> shapely.Geometry | None:
    shape = row.geometry
    return None if shape is None or shape.is_empty else shape


def empty(frame: gpd.GeoDataFrame) -> bool:
    """Say whether a layer has no row."""
    return len(frame) == 0
