"""Pieces that every picture shares: text, ticks, scale bar, north arrow, colour bar, hatch, caution strip."""

from __future__ import annotations

import math
from bisect import bisect_right
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.colours import Table

PAPER = (255, 255, 255)
INK = (28, 36, 42)
SOFT = (92, 103, 112)
RULE = (196, 202, 206)
STRIP = (253, 243, 220)
STRIP_EDGE = (196, 122, 16)
LINE = (255, 255, 255)
OUTLINE = (176, 28, 92)
HATCH = ((188, 188, 188), (236, 236, 236))

Rgb = NDArray[np.uint8]
Font = ImageFont.FreeTypeFont


@cache
def font(size_px: int, bold: bool = False) -> Font:
    """Return DejaVu Sans, which matplotlib carries, in one size."""
    from matplotlib import get_data_path

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(str(Path(get_data_path()) / "fonts" / "ttf" / name), size_px)


def round_step(span: float, most: int) -> float:
    """Largest count of equal round steps, no more than `most`, in a span: the step is 1, 2 or 5 times 10^n.

    Parameters
    ----------
    span : float
        Above 0, any unit.
    most : int
        Upper bound on span / step.

    Returns
    -------
    float
        The step, same unit.
    """
    wanted = span / most
    power = 10.0 ** math.floor(math.log10(wanted) + 1e-9)
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= wanted * (1.0 - 1e-9))


def multiples(low: float, high: float, step: float) -> list[float]:
    """Whole multiples of a step from low to high, both ends included where they are one."""
    first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
    return [k * step for k in range(first, last + 1)]


def tick_text(value: float, step: float) -> str:
    """Write a tick with just the decimals that its step needs."""
    decimals = max(0, -math.floor(math.log10(step) + 1e-9)) if step > 0 else 0
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text.replace("-", "\N{MINUS SIGN}")


def short_number(value: float) -> str:
    """Write a value of unknown size in three significant digits, without a zero's minus sign."""
    return f"{value:.3g}".replace("-", "\N{MINUS SIGN}") if value else "0"


def wrap(text: str, face: Font, width_px: float) -> list[str]:
    """Break text at spaces so that no line is wider; a longer word stands alone, cut to fit."""
    lines: list[str] = []
    current = ""
    for word in text.split():
        joined = f"{current} {word}".strip()
        if face.getlength(joined) <= width_px:
            current = joined
            continue
        if current:
            lines.append(current)
        current = fit_text(word, face, width_px)
    return [*lines, current] if current else lines


def fit_text(text: str, face: Font, width_px: float) -> str:
    """Shorten text with an ellipsis so that it is no wider."""
    if face.getlength(text) <= width_px:
        return text
    most = bisect_right(range(1, len(text)), width_px, key=lambda n: face.getlength(text[:n] + "…"))
    return text[:most].rstrip() + "…"


def title_lines(draw: ImageDraw.ImageDraw, first: str, second: str, width_px: int) -> None:
    """Write the two lines at the head of a picture, shortened to its width."""
    bold, plain = font(25, bold=True), font(19)
    draw.text((24, 14), fit_text(first, bold, width_px - 48), font=bold, fill=INK)
    draw.text((24, 52), fit_text(second, plain, width_px - 48), font=plain, fill=INK)


def paragraph(
    draw: ImageDraw.ImageDraw,
    xy: tuple[float, float],
    text: str,
    face: Font,
    width_px: float,
    fill: object = INK,
) -> float:
    """Write wrapped text from its upper left corner; return the y below it."""
    x, y = xy
    step = round(face.size * 1.35)
    for line in wrap(text, face, width_px):
        draw.text((x, y), line, font=face, fill=fill)  # type: ignore[arg-type]
        y += step
    return y


def caution_strip(image: Image.Image, *, size_px: int = 15) -> int:
    """Write the whole caution across the bottom of a picture, in place; return the y of its upper edge."""
    draw = ImageDraw.Draw(image)
    face, width, margin = font(size_px), image.width, 24
    lines = wrap(CAUTION, face, width - 2 * margin - 10)
    step = round(size_px * 1.4)
    top = image.height - (len(lines) * step + 20)
    draw.rectangle((0, top, width, image.height), fill=STRIP)
    draw.rectangle((0, top, 9, image.height), fill=STRIP_EDGE)
    for k, line in enumerate(lines):
        draw.text((margin, top + 9 + k * step), line, font=face, fill=INK)
    return top


def caution_height(width_px: int, *, size_px: int = 15) -> int:
    """Return the height that `caution_strip` will take in a picture of this width, pixels."""
    return len(wrap(CAUTION, font(size_px), width_px - 58)) * round(size_px * 1.4) + 20


def scale_bar(
    draw: ImageDraw.ImageDraw, xy: tuple[int, int], px_per_m: float, most_px: int, *, size_px: int = 15
) -> float:
    """Draw a scale bar of a round length, its left end at `xy`.

    Parameters
    ----------
    draw : ImageDraw
        Where to.
    xy : (int, int)
        Left end and upper edge, pixels.
    px_per_m : float
        Scale of the picture.
    most_px : int
        The bar is no longer than this.

    Returns
    -------
    float
        Length that the bar stands for, metres: 1, 2 or 5 times 10^n.
    """
    x, y = xy
    longest = most_px / px_per_m
    power = 10.0 ** math.floor(math.log10(longest))
    length = max(m * power for m in (1.0, 2.0, 5.0) if m * power <= longest * (1 + 1e-9))
    half, whole = round(0.5 * length * px_per_m), round(length * px_per_m)
    draw.rectangle((x, y, x + whole - 1, y + 9), fill=PAPER, outline=INK)
    draw.rectangle((x, y, x + half - 1, y + 9), fill=INK)
    face = font(size_px)
    step = 0.5 * length
    for at, value in ((0, 0.0), (half, step), (whole, length)):
        label = tick_text(value, step) if value == 0.0 else f"{value:g}"
        draw.text(
            (x + at, y + 14), label + (" m" if value == length else ""), font=face, fill=INK, anchor="ma"
        )
    return length


def north_arrow(draw: ImageDraw.ImageDraw, centre: tuple[int, int], height_px: int, *, mapped: bool) -> None:
    """Draw an arrow up the picture; "N" where the map has a CRS, else "y" of the local grid.

    Parameters
    ----------
    draw : ImageDraw
        Where to.
    centre : (int, int)
        Middle of the arrow, pixels.
    height_px : int
        Height of the arrow without its letters.
    mapped : bool
        True where up is grid north of a projected CRS.
    """
    x, y = centre
    half, wing = height_px // 2, height_px // 4
    draw.polygon([(x, y - half), (x - wing, y + half), (x, y + half // 2)], fill=INK)
    draw.polygon([(x, y - half), (x + wing, y + half), (x, y + half // 2)], fill=PAPER, outline=INK)
    text = ("N", "grid north") if mapped else ("y", "local grid, not north")
    draw.text((x, y - half - 4), text[0], font=font(20, bold=True), fill=INK, anchor="ms")
    draw.text((x, y + half + 8), text[1], font=font(13), fill=SOFT, anchor="ma")


def colour_bar(
    draw: ImageDraw.ImageDraw,
    box: tuple[int, int, int, int],
    colours: Table,
    colour_range: tuple[float, float],
    *,
    size_px: int = 15,
) -> None:
    """Draw an upright colour bar, high at the top, with round ticks; the ends say that they hold all beyond.

    Parameters
    ----------
    draw : ImageDraw
        Where to.
    box : (int, int, int, int)
        Left, top, right, bottom of the bar, pixels; the numbers stand to its right.
    colours : (256, 3) uint8
        The table.
    colour_range : (float, float)
        Values at the bottom and at the top.
    """
    left, top, right, bottom = box
    low, high = colour_range
    for y in range(top, bottom + 1):
        shade = colours[round(255 * (bottom - y) / (bottom - top))]
        draw.line((left, y, right, y), fill=(int(shade[0]), int(shade[1]), int(shade[2])))
    draw.rectangle(box, outline=INK)
    face = font(size_px)
    marks = [(bottom, f"≤ {short_number(low)}"), (top, f"≥ {short_number(high)}")]
    step = round_step(high - low, 5)
    for value in multiples(low, high, step):
        y = bottom - round((value - low) / (high - low) * (bottom - top))
        if min(y - top, bottom - y) > 1.2 * size_px:
            marks.append((y, tick_text(value, step)))
    for y, text in marks:
        draw.line((right, y, right + 5, y), fill=INK)
        draw.text((right + 9, y), text, font=face, fill=INK, anchor="lm")


@cache
def _hatch_tile() -> Rgb:
    row, column = np.mgrid[0:8, 0:8]
    dark = (row + column) % 8 < 2
    shades = np.array(HATCH, dtype=np.uint8)
    return np.asarray(np.where(dark[..., None], shades[0], shades[1]), dtype=np.uint8)


def hatch(height_px: int, width_px: int) -> Rgb:
    """Return the pattern that means "no data": light grey with diagonal strokes, (row, column, 3) uint8."""
    return np.tile(_hatch_tile(), (height_px // 8 + 1, width_px // 8 + 1, 1))[:height_px, :width_px]
