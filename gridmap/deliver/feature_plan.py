"""Plans on paper: what was found with identity, depth and one standard deviation; the points to set out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from PIL import Image, ImageDraw

from gridmap.deliver import drawing
from gridmap.deliver.check_layer import COLOURS
from gridmap.deliver.feature_layers import standing
from gridmap.deliver.label_places import LabelPlaces
from gridmap.deliver.layers import Layer
from gridmap.deliver.marking import NEUTRAL, marking_colour, rgb, short_label
from gridmap.deliver.pictures import draw_axes
from gridmap.deliver.plot_area import PlotArea, fit_area
from gridmap.features.stakes import Stake
from gridmap.model import Float64, RasterGrid

SIZE_PX = (1500, 1120)
_PANEL_PX = 330
_WALKED = (205, 211, 216)
_SHADE = 110
"""How opaque a shaded stretch is, of 255."""
_KINDS = ("linear", "outlines", "points")


def feature_plan(
    layers: Sequence[Layer], raster: RasterGrid, lines_map: Sequence[Float64], title: str, crs_name: str
) -> Image.Image:
    """Draw the plan of what stands.

    Parameters
    ----------
    layers : sequence of Layer
        `linear`, `outlines` and `points` are drawn; what a person rejected is left out.
    raster : RasterGrid
        Its extent is the plan's.
    lines_map : sequence of (trace, 2) float64
        Lines walked, on the map, metres.
    title, crs_name : str
        Name of the site; short name of the CRS, empty for a local grid.

    Returns
    -------
    Image
        RGB, `SIZE_PX`.
    """
    rows = [row for layer in layers if layer.name in _KINDS for _, row in standing(layer).iterrows()]
    second = f"{_count(rows)}; depths to the top, below the ground, with one standard deviation"
    image, area = _sheet(raster, lines_map, f"{title}: what was found", second, crs_name)
    draw = ImageDraw.Draw(image)
    shaded = _shade_checked(image, area, layers)
    for row in rows:
        _feature(image, area, row, 4)
    labels = LabelPlaces(area, drawing.font(15, bold=True))
    for row in rows:
        labels.block(_pixels(area, row.geometry))
    for row in rows:
        labels.write(draw, short_label(row), _pixels(area, row.geometry), rgb(marking_colour(row["class"])))
    left, y = SIZE_PX[0] - _PANEL_PX, _legend(draw, rows, (), shaded)
    _table(draw, left, y, rows, drawing.caution_height(SIZE_PX[0]))
    return image


def stake_plan(
    layers: Sequence[Layer],
    stakes: Sequence[Stake],
    raster: RasterGrid,
    lines_map: Sequence[Float64],
    title: str,
    crs_name: str,
) -> Image.Image:
    """Draw the points of stakeout.csv over the features; arguments as `feature_plan`."""
    rows = [row for layer in layers if layer.name in _KINDS for _, row in standing(layer).iterrows()]
    second = f"{len(stakes)} points, as in stakeout.csv; depths to the top, below the ground"
    image, area = _sheet(raster, lines_map, f"{title}: points to set out", second, crs_name)
    draw = ImageDraw.Draw(image)
    for row in rows:
        _feature(image, area, row, 2)
    labels = LabelPlaces(area, drawing.font(13, bold=True))
    places = [area.to_px(np.array([[s.east_m, s.north_m]])) for s in stakes]
    for row in rows:
        labels.block(_pixels(area, row.geometry))
    for at in places:
        labels.block(at)
    for s, at in zip(stakes, places, strict=True):
        colour = rgb(marking_colour(s.class_name))
        x, y = at[0]
        draw.ellipse((x - 5, y - 5, x + 5, y + 5), fill=drawing.PAPER, outline=colour, width=2)
        draw.line((x - 5, y, x + 5, y), fill=colour)
        draw.line((x, y - 5, x, y + 5), fill=colour)
        depth = f" {s.depth_m:.2f}" if math.isfinite(s.depth_m) else ""
        labels.write(draw, f"{s.name}{depth}", at, colour)
    _legend(draw, rows, ("point and depth, m",))
    return image


def _sheet(
    raster: RasterGrid, lines_map: Sequence[Float64], first: str, second: str, crs_name: str
) -> tuple[Image.Image, PlotArea]:
    """White sheet with frame, lines walked, arrow, scale bar and caution."""
    image = Image.new("RGB", SIZE_PX, drawing.PAPER)
    strip = drawing.caution_strip(image)
    area = fit_area(raster, (118, 96, SIZE_PX[0] - _PANEL_PX - 40, strip - 66))
    draw = ImageDraw.Draw(image)
    overlay = Image.new("RGBA", (area.width_px, area.height_px), (0, 0, 0, 0))
    draw_axes(draw, overlay, area, raster, crs_name)
    for path in lines_map:
        draw.line([tuple(p) for p in area.to_px(path)], fill=_WALKED, width=1)
    drawing.title_lines(draw, first, second, SIZE_PX[0])
    left = SIZE_PX[0] - _PANEL_PX
    drawing.north_arrow(draw, (left + 150, 138), 60, mapped=raster.crs_wkt is not None)
    drawing.scale_bar(draw, (left + 12, 218), area.px_per_m, 260)
    return image, area


def _shade_checked(image: Image.Image, area: PlotArea, layers: Sequence[Layer]) -> list[str]:
    """Shade stretches of lines that the check asks to look at, the worst on top; return what was shaded."""
    rows = [row for layer in layers if layer.name == "check" for _, row in layer.frame.iterrows()]
    overlay = Image.new("RGBA", image.size, (0, 0, 0, 0))
    brush = ImageDraw.Draw(overlay)
    shaded: list[str] = []
    for severity in ("attention", "walk again"):
        for row in rows:
            if row["severity"] == severity and math.isfinite(row["from_m"]):
                path = [tuple(p) for p in _pixels(area, row.geometry)]
                brush.line(path, fill=(*rgb(COLOURS[severity]), _SHADE), width=9)
                shaded += [severity] if severity not in shaded else []
    image.paste(overlay, (0, 0), overlay)
    return shaded


def _pale(colour: tuple[int, int, int]) -> tuple[int, int, int]:
    """Give a colour as it looks when it is laid over paper as a shade."""
    red, green, blue = (round(255 + (c - 255) * _SHADE / 255) for c in colour)
    return red, green, blue


def _pixels(area: PlotArea, shape: shapely.Geometry) -> Float64:
    return area.to_px(shapely.get_coordinates(shape.exterior if shape.geom_type == "Polygon" else shape))


def _feature(image: Image.Image, area: PlotArea, row: Any, width: int) -> None:
    colour = rgb(marking_colour(row["class"]))
    points = [(float(x), float(y)) for x, y in _pixels(area, row.geometry)]
    if row.geometry.geom_type == "Polygon":
        wash = Image.new("RGBA", image.size, (0, 0, 0, 0))
        ImageDraw.Draw(wash).polygon(points, fill=(*colour, 50))
        image.paste(wash, (0, 0), wash)
    draw = ImageDraw.Draw(image)
    if len(points) == 1:
        x, y = points[0]
        draw.ellipse((x - 6, y - 6, x + 6, y + 6), outline=colour, width=3)
    else:
        draw.line(points, fill=colour, width=width, joint="curve")


def _legend(
    draw: ImageDraw.ImageDraw, rows: Sequence[Any], more: Sequence[str], shaded: Sequence[str] = ()
) -> int:
    left, y, face = SIZE_PX[0] - _PANEL_PX, 276, drawing.font(15)
    known = sorted({str(row["class"]) for row in rows if marking_colour(row["class"]) != NEUTRAL})
    marks = [("class not known" if known else "found, accepted or drawn", rgb(NEUTRAL), 4)]
    marks += [(name, rgb(marking_colour(name)), 4) for name in known]
    marks += [("lines walked", _WALKED, 2)]
    marks += [(f"fieldwork: {severity}", _pale(rgb(COLOURS[severity])), 9) for severity in shaded]
    for words, colour, width in marks:
        draw.line((left, y + 10, left + 36, y + 10), fill=colour, width=width)
        draw.text((left + 48, y), words, font=face, fill=drawing.INK)
        y += 26
    for words in more:
        draw.ellipse((left + 13, y + 5, left + 23, y + 15), outline=rgb(NEUTRAL), width=2)
        draw.text((left + 48, y), words, font=face, fill=drawing.INK)
        y += 26
    return y + 14


def _table(draw: ImageDraw.ImageDraw, left: int, y: int, rows: Sequence[Any], foot_px: int) -> None:
    """List the features: identity, depth, confidence, status; what finds no room is counted."""
    face, bold = drawing.font(14), drawing.font(14, bold=True)
    stops = (0, 42, 178, 228)
    for stop, word in zip(stops, ("", "top, m", "sure", "status"), strict=True):
        draw.text((left + stop, y), word, font=bold, fill=drawing.INK)
    room = (SIZE_PX[1] - foot_px - 60 - y) // 21
    for k, row in enumerate(rows):
        y += 21
        if k == room - 1 and len(rows) > room:
            draw.text((left, y), f"and {len(rows) - k} more in features.gpkg", font=face, fill=drawing.SOFT)
            break
        depth = short_label(row).split(" ", 1)[1].removesuffix(" m")
        sure = f"{row['confidence']:.2f}" if row["confidence"] == row["confidence"] else ""
        for stop, text in zip(stops, (str(row["id"]), depth, sure, str(row["status"])), strict=True):
            draw.text((left + stop, y), text, font=face, fill=drawing.INK)
    if not rows:
        draw.text((left, y + 21), "Nothing found; that is no proof.", font=face, fill=drawing.INK)


def _count(rows: Sequence[Any]) -> str:
    words = {"LineString": ("line", "lines"), "Polygon": ("area", "areas"), "Point": ("point", "points")}
    parts = []
    for kind, (one, many) in words.items():
        n = sum(row.geometry.geom_type == kind for row in rows)
        if n:
            parts.append(f"{n} {one if n == 1 else many}")
    return ", ".join(parts) or "nothing found"
