"""Picture of one line: distance along it, two-way time down on the left, depth on the right."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from PIL import Image, ImageDraw

from gridmap.deliver import drawing
from gridmap.deliver.colours import Table, table
from gridmap.deliver.colours import colour_range as robust_range
from gridmap.deliver.plot_area import colour_words, words_image
from gridmap.deliver.words import velocity_words
from gridmap.errors import OurFaultError
from gridmap.model import Float32, Float64, VelocityModel

SIZE_PX = (1400, 800)
_GAP_IN_INTERVALS = 3.0


@dataclass(frozen=True, slots=True)
class RadargramSheet:
    """All of a radargram picture that does not change from line to line.

    Attributes
    ----------
    base : Image
        Caution, axes of time and depth, colour bar, second line of the title.
    samples : int
        Samples of the traces that its axes stand for.
    colours : (256, 3) uint8
        The table.
    colour_range : (float, float)
        Values of its ends.
    """

    base: Image.Image
    samples: int
    colours: Table
    colour_range: tuple[float, float]


def radargram_sheet(
    time_ns: Float64,
    *,
    velocity: VelocityModel,
    gain_note: str,
    colour_range: tuple[float, float],
    quantity: str = "amplitude",
    scale_note: str = "fixed scale",
    table_name: str = "grey",
) -> RadargramSheet:
    """Draw what all radargrams of a survey share; parameters as in `draw_radargram`.

    Parameters
    ----------
    scale_note : str
        Where the colour range is from.

    Returns
    -------
    RadargramSheet
        For `draw_on_radargram`.
    """
    image = Image.new("RGB", SIZE_PX, drawing.PAPER)
    image.info["table"] = table_name
    strip_top = drawing.caution_strip(image)
    draw = ImageDraw.Draw(image)
    drawing.title_lines(draw, "", f"Radargram: {quantity}; {gain_note}; {scale_note}", SIZE_PX[0])
    box = left, top, right, bottom = plot_box()
    draw.rectangle((left - 1, top - 1, right, bottom), outline=drawing.INK)
    _time_axis(draw, box, float(time_ns[0]), float(time_ns[-1]))
    _depth_axis(draw, box, float(time_ns[0]), float(time_ns[-1]), velocity)
    colours = table(table_name)
    drawing.colour_bar(draw, (right + 110, top, right + 132, top + 220), colours, colour_range)
    footing = f"{velocity_words(velocity)} Depth scale: straight down, antennas at one point."
    face = drawing.font(14)
    draw.text(
        (24, strip_top - 32), drawing.fit_text(footing, face, SIZE_PX[0] - 48), font=face, fill=drawing.SOFT
    )
    return RadargramSheet(image, len(time_ns), colours, colour_range)


def draw_on_radargram(sheet: RadargramSheet, traces: Float32, along_m: Float64, title: str) -> Image.Image:
    """Draw one line on its sheet; parameters, result and errors as in `draw_radargram`."""
    if traces.shape != (len(along_m), sheet.samples) or min(traces.shape) < 2:
        raise OurFaultError(
            f"radargram {title!r}: traces {traces.shape} "
            f"against {len(along_m)} distances and {sheet.samples} times"
        )
    image = sheet.base.copy()
    draw = ImageDraw.Draw(image)
    drawing.title_lines(draw, title, "", SIZE_PX[0])
    box = left, top, right, bottom = plot_box()
    pixels = resample(traces, along_m, right - left, bottom - top)
    image.paste(words_image(colour_words(pixels, sheet.colours, sheet.colour_range)), (left, top))
    _distance_axis(draw, box, float(along_m[0]), float(along_m[-1]))
    return image


def draw_radargram(
    traces: Float32,
    along_m: Float64,
    time_ns: Float64,
    *,
    velocity: VelocityModel,
    title: str,
    gain_note: str,
    quantity: str = "amplitude",
    colour_range: tuple[float, float] | None = None,
    table_name: str = "grey",
) -> Image.Image:
    """Draw a radargram.

    Parameters
    ----------
    traces : (trace, sample) float32
        Amplitude, or an envelope.
    along_m : (trace,) float64
        Distance along the line, metres, increasing.
    time_ns : (sample,) float64
        Two-way time from time zero, nanoseconds, even steps.
    velocity : VelocityModel
        Places the depth axis; its ticks are uneven where the velocity changes.
    title : str
        Site and line.
    gain_note : str
        Which gain the picture has, such as "no gain" or "gain by time to the power 1.5".
    quantity : str
        What the values are.
    colour_range : (float, float) or None
        Fixed ends; None takes them from this line, and the picture says so.
    table_name : str
        One of `colours.TABLES`.

    Returns
    -------
    Image
        RGB, `SIZE_PX`. A hatched column has no trace within three trace intervals.

    Raises
    ------
    OurFaultError
        If the shapes do not fit or a line has fewer than two traces or samples.
    """
    if traces.shape != (len(along_m), len(time_ns)) or min(traces.shape) < 2:
        raise OurFaultError(
            f"radargram {title!r}: traces {traces.shape} "
            f"against {len(along_m)} distances and {len(time_ns)} times"
        )
    signed = bool(np.nanmin(traces) < 0.0)
    sheet = radargram_sheet(
        time_ns,
        velocity=velocity,
        gain_note=gain_note,
        colour_range=robust_range(traces, signed=signed) if colour_range is None else colour_range,
        quantity=quantity,
        scale_note="scale from this line alone" if colour_range is None else "fixed scale",
        table_name=table_name,
    )
    return draw_on_radargram(sheet, traces, along_m, title)


@cache
def plot_box() -> tuple[int, int, int, int]:
    """Left, top, right and bottom of the data in the picture, pixels."""
    strip_top = SIZE_PX[1] - drawing.caution_height(SIZE_PX[0])
    return 96, 122, SIZE_PX[0] - 240, strip_top - 92


def time_to_row(time_ns: Float64 | float, first_ns: float, last_ns: float, top: int, bottom: int) -> Float64:
    """Take two-way time to the picture's y, pixels; the first sample lies at the top edge."""
    return np.asarray(top + (np.asarray(time_ns) - first_ns) / (last_ns - first_ns) * (bottom - top))


def resample(traces: Float32, along_m: Float64, width: int, height: int) -> Float32:
    """Pixels (row, column): mean of the traces under a column, else the nearest; samples interpolated."""
    along = np.asarray(along_m, dtype=float)
    edges = np.linspace(along[0], along[-1], width + 1)
    first = np.searchsorted(along, edges[:-1], side="left")
    count = np.searchsorted(along, edges[1:], side="left") - first
    count[-1] += int(np.sum(along[first[-1] + count[-1] :] <= along[-1]))
    middle = 0.5 * (edges[1:] + edges[:-1])
    after = np.clip(np.searchsorted(along, middle), 1, len(along) - 1)
    nearest = np.where(middle - along[after - 1] <= along[after] - middle, after - 1, after)
    sums = np.add.reduceat(traces, np.minimum(first, len(along) - 1), axis=0)
    share = (1.0 / np.maximum(count, 1)).astype(np.float32)
    columns = np.where((count > 0)[:, None], sums * share[:, None], traces[nearest])
    far = np.abs(along[nearest] - middle) > _GAP_IN_INTERVALS * np.median(np.diff(along))
    columns[far & (count == 0)] = np.nan
    at = np.linspace(0.0, traces.shape[1] - 1.0, height)
    low = np.minimum(at.astype(int), traces.shape[1] - 2)
    part = (at - low).astype(np.float32)
    across = np.ascontiguousarray(columns.T, dtype=np.float32)
    upper, lower = across[low], across[low + 1]
    upper *= (1.0 - part)[:, None]
    lower *= part[:, None]
    upper += lower
    return np.asarray(upper)


def _distance_axis(
    draw: ImageDraw.ImageDraw, box: tuple[int, int, int, int], low: float, high: float
) -> None:
    left, top, right, _ = box
    step = drawing.round_step(high - low, 12)
    for value in drawing.multiples(low, high, step):
        x = round(left + (value - low) / (high - low) * (right - left))
        draw.line((x, top - 7, x, top - 1), fill=drawing.INK)
        label = drawing.tick_text(value, step)
        draw.text((x, top - 10), label, font=drawing.font(15), fill=drawing.INK, anchor="ms")
    words = "Distance along the line, m"
    draw.text(
        ((left + right) // 2, box[3] + 10), words, font=drawing.font(14), fill=drawing.SOFT, anchor="ma"
    )


def _time_axis(draw: ImageDraw.ImageDraw, box: tuple[int, int, int, int], low: float, high: float) -> None:
    left, top, _, bottom = box
    step = drawing.round_step(high - low, 10)
    for value in drawing.multiples(low, high, step):
        y = round(float(time_to_row(value, low, high, top, bottom)))
        draw.line((left - 7, y, left - 1, y), fill=drawing.INK)
        label = drawing.tick_text(value, step)
        draw.text((left - 11, y), label, font=drawing.font(15), fill=drawing.INK, anchor="rm")
    draw.text((24, bottom + 10), "Two-way time, ns", font=drawing.font(14), fill=drawing.SOFT)


def _depth_axis(
    draw: ImageDraw.ImageDraw,
    box: tuple[int, int, int, int],
    low: float,
    high: float,
    velocity: VelocityModel,
) -> None:
    _, top, right, bottom = box
    deepest = float(velocity.depth_m(high))
    if deepest <= 0.0:
        return
    step = drawing.round_step(deepest, 8)
    for depth in drawing.multiples(0.0, deepest, step):
        time = float(velocity.two_way_ns(depth))
        if time < low:
            continue
        y = round(float(time_to_row(time, low, high, top, bottom)))
        draw.line((right, y, right + 6, y), fill=drawing.INK)
        label = drawing.tick_text(depth, step)
        draw.text((right + 10, y), label, font=drawing.font(15), fill=drawing.INK, anchor="lm")
    draw.text((right + 6, bottom + 10), "Depth, m", font=drawing.font(14), fill=drawing.SOFT)
