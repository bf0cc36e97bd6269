"""Pictures of slices: one a slice at a fixed scale, and all of them on one sheet."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, PngImagePlugin

from gridmap.deliver import drawing
from gridmap.deliver.caution import CAUTION
from gridmap.deliver.colours import Table, table
from gridmap.deliver.palette import to_palette
from gridmap.deliver.plot_area import PlotArea, fit_area, raster_image
from gridmap.deliver.words import SAME_SCALE, first_capital, window_words
from gridmap.errors import OurFaultError
from gridmap.files import whole_file
from gridmap.model import Float32, Float64, RasterGrid, SliceStack, Window

SLICE_SIZE_PX = (1240, 1000)
_PANEL_PX = 270


@dataclass(frozen=True, slots=True)
class SliceSheet:
    """All of a slice picture that does not change from slice to slice.

    Attributes
    ----------
    base : Image
        Frame, ticks, panel, caution.
    overlay : Image
        Lines walked, outline and grid crosses, to lie over the slice; size of the map area.
    area : PlotArea
        Where the slice goes.
    raster : RasterGrid
        Cells of the slice.
    colours : (256, 3) uint8
        The table.
    colour_range : (float, float)
        Values of its ends.
    title : str
        First line.
    """

    base: Image.Image
    overlay: Image.Image
    area: PlotArea
    raster: RasterGrid
    colours: Table
    colour_range: tuple[float, float]
    title: str


def slice_sheet(
    raster: RasterGrid,
    *,
    colour_range: tuple[float, float],
    quantity: str,
    title: str,
    velocity_text: str,
    lines_map: Sequence[Float64] = (),
    grid_outline: Float64 | None = None,
    table_name: str = "cividis",
    crs_name: str = "",
    note: str = "",
) -> SliceSheet:
    """Draw what all slice pictures of a stack share.

    Parameters
    ----------
    raster : RasterGrid
        Cells of the slices.
    colour_range : (float, float)
        One scale for all slices; see `colours.colour_range`.
    quantity : str
        What the values are.
    title : str
        The site's name.
    velocity_text : str
        See `words.velocity_words`.
    lines_map : sequence of (k, 2) float64
        Paths of the lines walked, map metres.
    grid_outline : (k, 2) float64 or None
        Corners of the grid, map metres; closed here.
    table_name : str
        One of `colours.TABLES`.
    crs_name : str
        Short name of the CRS, such as "EPSG:25832".
    note : str
        Anything more to say beside the map.

    Returns
    -------
    SliceSheet
        For `draw_on_sheet`.
    """
    width = SLICE_SIZE_PX[0]
    base = Image.new("RGB", SLICE_SIZE_PX, drawing.PAPER)
    base.info["table"] = table_name
    strip_top = drawing.caution_strip(base)
    colours = table(table_name)
    area = fit_area(raster, (118, 96, width - _PANEL_PX - 44, strip_top - 66))
    draw = ImageDraw.Draw(base)
    overlay = Image.new("RGBA", (area.width_px, area.height_px), (0, 0, 0, 0))
    draw_axes(draw, overlay, area, raster, crs_name)
    _draw_paths(overlay, area, lines_map, grid_outline)
    left = width - _PANEL_PX
    mapped = raster.crs_wkt is not None
    drawing.north_arrow(draw, (left + 120, 138), 60, mapped=mapped)
    drawing.scale_bar(draw, (left + 12, 218), area.px_per_m, 215)
    y = drawing.paragraph(draw, (left, 272), first_capital(quantity), drawing.font(15), _PANEL_PX - 24)
    drawing.colour_bar(draw, (left, int(y) + 16, left + 28, int(y) + 256), colours, colour_range)
    y = drawing.paragraph(draw, (left, y + 272), SAME_SCALE, drawing.font(15, bold=True), _PANEL_PX - 24) + 10
    y = (
        _legend(base, left, int(y), with_lines=bool(len(lines_map)), with_outline=grid_outline is not None)
        + 8
    )
    y = drawing.paragraph(draw, (left, y), velocity_text, drawing.font(14), _PANEL_PX - 24) + 8
    drawing.paragraph(draw, (left, y), note, drawing.font(14), _PANEL_PX - 24, drawing.SOFT)
    return SliceSheet(base, overlay, area, raster, colours, colour_range, title)


def draw_on_sheet(sheet: SliceSheet, values: Float32, window: Window) -> Image.Image:
    """Draw one slice on its sheet.

    Parameters
    ----------
    sheet : SliceSheet
        From `slice_sheet`.
    values : (row, column) float32
        North-up; NaN where blank.
    window : Window
        What the slice stands for.

    Returns
    -------
    Image
        RGB, `SLICE_SIZE_PX`.

    Raises
    ------
    OurFaultError
        If the slice does not have the raster's shape.
    """
    if values.shape != sheet.raster.shape:
        raise OurFaultError(f"slice {window.stem}: shape {values.shape}, its raster has {sheet.raster.shape}")
    area = sheet.area
    image = sheet.base.copy()
    drawn = raster_image(values, sheet.raster.cell_m, area, sheet.colours, sheet.colour_range)
    corner = (area.left_px, area.top_px)
    image.paste(drawn, corner)
    image.paste(sheet.overlay, corner, sheet.overlay)
    draw = ImageDraw.Draw(image)
    drawing.title_lines(draw, sheet.title, window_words(window), image.width)
    return image


def write_slice_pictures(folder: Path, stack: SliceStack, sheet: SliceSheet) -> list[Path]:
    """Write one PNG a slice, named by its window.

    Parameters
    ----------
    folder : Path
        Must exist.
    stack : SliceStack
        (slice, row, column) on the sheet's raster.
    sheet : SliceSheet
        From `slice_sheet`.

    Returns
    -------
    list of Path
        In the order of the stack.
    """

    def one(values: Float32, window: Window) -> Path:
        path = folder / f"{window.stem}.png"
        write_picture(path, draw_on_sheet(sheet, values, window))
        return path

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, stack.values, stack.windows))


def write_picture(path: Path, image: Image.Image) -> None:
    """Write a PNG whole or not at all; the same picture gives the same bytes.

    Parameters
    ----------
    path : Path
        Where it is to stand; its folder must exist.
    image : Image
        RGB. Where `image.info["table"]` names a colour table, as our drawings do, it is written with a palette.
        The caution goes in as text.
    """
    table_name = image.info.get("table")
    about = PngImagePlugin.PngInfo()
    about.add_itxt("Description", CAUTION)
    with whole_file(path) as temporary:
        drawn = image if table_name is None else to_palette(image, table_name)
        drawn.save(temporary, format="PNG", compress_level=2, pnginfo=about, dpi=(110, 110))


def draw_axes(
    draw: ImageDraw.ImageDraw, overlay: Image.Image, area: PlotArea, raster: RasterGrid, crs_name: str
) -> None:
    """Frame, ticks with numbers outside, crosses inside."""
    west, south, east, north = raster.bounds
    face, small = drawing.font(15), drawing.font(14)
    right, bottom = area.left_px + area.width_px, area.top_px + area.height_px
    draw.rectangle((area.left_px - 1, area.top_px - 1, right, bottom), outline=drawing.INK)
    span = max(east - west, north - south)
    step = next(
        s
        for s in (drawing.round_step(span, most) for most in (8, 6, 5, 4, 3, 2, 1))
        if s * area.px_per_m > face.getlength(drawing.tick_text(east, s)) + 16 or s >= span
    )
    eastings, northings = drawing.multiples(west, east, step), drawing.multiples(south, north, step)
    for value in eastings:
        x = round(float(area.to_px(np.array([value, north]))[0]))
        draw.line((x, bottom, x, bottom + 6), fill=drawing.INK)
        draw.text((x, bottom + 9), drawing.tick_text(value, step), font=face, fill=drawing.INK, anchor="ma")
    for value in northings:
        y = round(float(area.to_px(np.array([west, value]))[1]))
        draw.line((area.left_px - 7, y, area.left_px - 1, y), fill=drawing.INK)
        draw.text(
            (area.left_px - 11, y), drawing.tick_text(value, step), font=face, fill=drawing.INK, anchor="rm"
        )
    names = ("Easting, m", "Northing, m") if raster.crs_wkt is not None else ("Local x, m", "Local y, m")
    across = f"{names[0]}   {crs_name}".strip()
    draw.text(
        (area.left_px + area.width_px // 2, bottom + 34), across, font=small, fill=drawing.SOFT, anchor="ma"
    )
    draw.text((area.left_px, area.top_px - 7), names[1], font=small, fill=drawing.SOFT, anchor="rs")
    over = ImageDraw.Draw(overlay)
    for easting in eastings:
        for northing in northings:
            x, y = area.to_px(np.array([easting, northing])) - (area.left_px, area.top_px)
            over.line((x - 5, y, x + 5, y), fill=(255, 255, 255, 150))
            over.line((x, y - 5, x, y + 5), fill=(255, 255, 255, 150))


def _draw_paths(
    overlay: Image.Image, area: PlotArea, lines_map: Sequence[Float64], grid_outline: Float64 | None
) -> None:
    over = ImageDraw.Draw(overlay)
    corner = (area.left_px, area.top_px)
    for path in lines_map:
        over.line([tuple(p) for p in area.to_px(path) - corner], fill=(*drawing.LINE, 70))
    if grid_outline is not None:
        closed = np.vstack([grid_outline, grid_outline[:1]])
        over.line([tuple(p) for p in area.to_px(closed) - corner], fill=(*drawing.OUTLINE, 255), width=2)


def _legend(image: Image.Image, x: int, y: int, *, with_lines: bool, with_outline: bool) -> int:
    draw = ImageDraw.Draw(image)
    face = drawing.font(15)
    image.paste(Image.fromarray(drawing.hatch(18, 30)), (x, y))
    draw.rectangle((x, y, x + 30, y + 18), outline=drawing.SOFT)
    draw.text((x + 40, y + 9), "no data", font=face, fill=drawing.INK, anchor="lm")
    y += 27
    if with_lines:
        draw.rectangle((x, y, x + 30, y + 18), fill=(88, 92, 110), outline=drawing.SOFT)
        draw.line((x + 3, y + 9, x + 27, y + 9), fill=(160, 163, 176))
        draw.text((x + 40, y + 9), "line walked", font=face, fill=drawing.INK, anchor="lm")
        y += 27
    if with_outline:
        draw.line((x + 3, y + 9, x + 27, y + 9), fill=drawing.OUTLINE, width=2)
        draw.text((x + 40, y + 9), "edge of the grid", font=face, fill=drawing.INK, anchor="lm")
        y += 27
    return y
