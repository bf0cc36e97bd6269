"""All slices of a stack on one sheet, small, at one scale of colour and of length."""

from __future__ import annotations

import math

from PIL import Image, ImageDraw

from gridmap.deliver import drawing
from gridmap.deliver.colours import table
from gridmap.deliver.plot_area import PlotArea, fit_area, raster_image
from gridmap.deliver.words import SAME_SCALE, first_capital, stack_words
from gridmap.errors import OurFaultError
from gridmap.model import RasterGrid, SliceStack

WIDTH_PX = 1600
_USUAL_HEIGHT_PX = 1130
_PANEL_PX = 230
_TOP_PX = 92
_LABEL_PX = 24
_GAP_PX = 10
_SMALLEST_PX = 130


def contact_sheet(
    stack: SliceStack,
    raster: RasterGrid,
    *,
    colour_range: tuple[float, float],
    title: str,
    velocity_text: str,
    table_name: str = "cividis",
) -> Image.Image:
    """Draw every slice of a stack, from the top down, in reading order.

    Parameters
    ----------
    stack : SliceStack
        (slice, row, column) on the raster.
    raster : RasterGrid
        North-up cells.
    colour_range : (float, float)
        One scale for all.
    title : str
        The site's name.
    velocity_text : str
        See `words.velocity_words`.
    table_name : str
        One of `colours.TABLES`.

    Returns
    -------
    Image
        RGB, `WIDTH_PX` wide; as tall as a landscape A4 sheet, or taller where the slices would be too small.

    Raises
    ------
    OurFaultError
        If the stack is empty or does not have the raster's shape.
    """
    if not len(stack.values) or stack.values.shape[1:] != raster.shape:
        raise OurFaultError(
            f"contact sheet: stack of shape {stack.values.shape} on a raster of {raster.shape}"
        )
    bottom_px = drawing.caution_height(WIDTH_PX) + 16
    wide = WIDTH_PX - _PANEL_PX - 48
    aspect = raster.rows / raster.columns
    columns, thumb = _columns(len(stack.values), aspect, wide, _USUAL_HEIGHT_PX - _TOP_PX - bottom_px)
    pitch_y = round(thumb * aspect) + _LABEL_PX + _GAP_PX
    rows = -(-len(stack.values) // columns)
    image = Image.new("RGB", (WIDTH_PX, max(700, _TOP_PX + rows * pitch_y + bottom_px)), drawing.PAPER)
    image.info["table"] = table_name
    draw = ImageDraw.Draw(image)
    drawing.caution_strip(image)
    drawing.title_lines(
        draw, title, f"{stack_words(stack.windows)}, top to bottom in reading order", WIDTH_PX
    )
    colours, face = table(table_name), drawing.font(14)
    area = fit_area(raster, (0, 0, thumb, max(1, round(thumb * aspect))))
    for k, (values, window) in enumerate(zip(stack.values, stack.windows, strict=True)):
        left = 24 + (k % columns) * (thumb + _GAP_PX)
        top = _TOP_PX + (k // columns) * pitch_y
        drawn = raster_image(values, raster.cell_m, area, colours, colour_range)
        image.paste(drawn, (left, top + _LABEL_PX))
        box = (left - 1, top + _LABEL_PX - 1, left + area.width_px, top + _LABEL_PX + area.height_px)
        draw.rectangle(box, outline=drawing.SOFT)
        draw.text((left, top + 4), drawing.fit_text(window.label, face, thumb), font=face, fill=drawing.INK)
    _panel(image, area, raster, stack.quantity, colour_range, table_name, velocity_text)
    return image


def _columns(count: int, aspect: float, wide: int, high: int) -> tuple[int, int]:
    """Columns that make the slices largest, and their width; no smaller than `_SMALLEST_PX`."""
    best = (1, 0)
    for columns in range(1, count + 1):
        rows = math.ceil(count / columns)
        across = wide / columns - _GAP_PX
        down = (high / rows - _LABEL_PX - _GAP_PX) / aspect
        best = max(best, (columns, math.floor(min(across, down))), key=lambda pair: pair[1])
    if best[1] < _SMALLEST_PX:
        columns = max(1, wide // (_SMALLEST_PX + _GAP_PX))
        return columns, wide // columns - _GAP_PX
    return best


def _panel(
    image: Image.Image,
    area: PlotArea,
    raster: RasterGrid,
    quantity: str,
    colour_range: tuple[float, float],
    table_name: str,
    velocity_text: str,
) -> None:
    draw = ImageDraw.Draw(image)
    left, width = WIDTH_PX - _PANEL_PX, _PANEL_PX - 24
    drawing.north_arrow(draw, (left + 90, 60), 50, mapped=raster.crs_wkt is not None)
    drawing.scale_bar(draw, (left + 10, 132), area.px_per_m, min(area.width_px, 160), size_px=14)
    y = drawing.paragraph(draw, (left, 180), first_capital(quantity), drawing.font(14), width)
    drawing.colour_bar(draw, (left, int(y) + 14, left + 26, int(y) + 194), table(table_name), colour_range)
    y = drawing.paragraph(draw, (left, y + 210), SAME_SCALE, drawing.font(14, bold=True), width) + 8
    image.paste(Image.fromarray(drawing.hatch(18, 30)), (left, int(y)))
    draw.rectangle((left, int(y), left + 30, int(y) + 18), outline=drawing.SOFT)
    draw.text((left + 40, int(y) + 9), "no data", font=drawing.font(14), fill=drawing.INK, anchor="lm")
    drawing.paragraph(draw, (left, y + 32), velocity_text, drawing.font(14), width)
