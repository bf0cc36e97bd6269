"""A plan of the lines walked: arrows, names, and what looks wrong with which line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from gridmap.deliver.drawing import (
    INK,
    OUTLINE,
    PAPER,
    RULE,
    SOFT,
    caution_height,
    caution_strip,
    fit_text,
    font,
    multiples,
    north_arrow,
    round_step,
    scale_bar,
    tick_text,
    title_lines,
)
from gridmap.deliver.plot_area import PlotArea
from gridmap.files import whole_file
from gridmap.model import Float64

RIGHTED = (26, 98, 160)
_WIDTH = 1500
_SIDE = 330
_HEAD = 92


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One line in the plan.

    Attributes
    ----------
    name : str
        The line.
    xy_m : (trace, 2) float64
        Local grid positions in the order walked, metres.
    suspected, applied : tuple of str
        What looks wrong and was left, and what was put right, in a word or two each.
    """

    name: str
    xy_m: Float64
    suspected: tuple[str, ...] = ()
    applied: tuple[str, ...] = ()


def draw_plan(title: str, lines: Sequence[PlanLine]) -> Image.Image:
    """Draw the plan.

    Parameters
    ----------
    title : str
        Name of the site.
    lines : sequence of PlanLine
        At least one.

    Returns
    -------
    Image
        1500 pixels wide. Suspected lines are thick, dashed and named at their start; lines put right are blue.
    """
    xy = np.concatenate([ln.xy_m for ln in lines])
    low, high = xy.min(axis=0), xy.max(axis=0)
    span = np.maximum(high - low, 0.5)
    pad = 0.06 * float(span.max())
    low, span = low - pad, span + 2 * pad
    left, width = 90, _WIDTH - 90 - _SIDE
    scale = min(width / span[0], 1150 / span[1])
    tall = round(span[1] * scale)
    height = _HEAD + max(tall, 420) + 70 + caution_height(_WIDTH)
    image = Image.new("RGB", (_WIDTH, height), PAPER)
    draw = ImageDraw.Draw(image)
    area = PlotArea(left, _HEAD, round(span[0] * scale), tall, scale, float(low[0]), float(low[1] + span[1]))
    suspects = [ln for ln in lines if ln.suspected]
    second = f"{len(lines)} lines as walked; " + (
        f"{len(suspects)} to look at" if suspects else "none stands out as wrong"
    )
    title_lines(draw, f"{title}: lines walked", second, _WIDTH)
    _axes(draw, area)
    for line in sorted(lines, key=lambda ln: bool(ln.suspected)):
        _one(draw, area, line)
    _side(draw, area, lines, height - caution_height(_WIDTH) - 10)
    caution_strip(image)
    return image


def write_plan_picture(path: Path, title: str, lines: Sequence[PlanLine]) -> None:
    """Write the plan as a PNG file, whole or not at all; see `draw_plan`."""
    with whole_file(path) as part:
        draw_plan(title, lines).save(part, format="PNG")


def _axes(draw: ImageDraw.ImageDraw, area: PlotArea) -> None:
    right, bottom = area.left_px + area.width_px, area.top_px + area.height_px
    draw.rectangle((area.left_px, area.top_px, right, bottom), outline=RULE)
    face = font(15)
    east, south = area.west_m + area.width_px / area.px_per_m, area.north_m - area.height_px / area.px_per_m
    step = round_step(max(east - area.west_m, area.north_m - south), 10)
    for x in multiples(area.west_m, east, step):
        px = round(area.to_px(np.array([x, south]))[0])
        draw.line((px, bottom, px, bottom + 6), fill=INK)
        draw.text((px, bottom + 9), tick_text(x, step), font=face, fill=INK, anchor="ma")
    for y in multiples(south, area.north_m, step):
        py = round(area.to_px(np.array([area.west_m, y]))[1])
        draw.line((area.left_px - 6, py, area.left_px, py), fill=INK)
        draw.text((area.left_px - 10, py), tick_text(y, step), font=face, fill=INK, anchor="rm")
    draw.text((right, bottom + 32), "x, m", font=face, fill=SOFT, anchor="ra")
    draw.text((area.left_px - 10, area.top_px + 2), "y, m", font=face, fill=SOFT, anchor="ra")


def _one(draw: ImageDraw.ImageDraw, area: PlotArea, line: PlanLine) -> None:
    points = area.to_px(line.xy_m)
    colour = OUTLINE if line.suspected else RIGHTED if line.applied else INK
    wide = 4 if line.suspected else 2
    kept = np.rint(np.concatenate([points[:: max(1, len(points) // 60)], points[-1:]])).astype(int)
    path = [(int(x), int(y)) for x, y in kept]
    if line.suspected:
        for k in range(0, len(path) - 1, 2):
            draw.line((*path[k], *path[k + 1]), fill=colour, width=wide)
    else:
        draw.line([c for p in path for c in p], fill=colour, width=wide)
    x, y = path[0]
    draw.ellipse((x - 4, y - 4, x + 4, y + 4), fill=PAPER, outline=colour, width=2)
    for share in (0.5, 1.0):
        _arrow(draw, points, share, colour, 9 if not line.suspected else 13)


def _arrow(
    draw: ImageDraw.ImageDraw, points: Float64, share: float, colour: tuple[int, int, int], size: float
) -> None:
    k = min(len(points) - 1, max(1, round(share * (len(points) - 1))))
    tip, back = points[k], points[max(0, k - max(1, len(points) // 12))]
    angle = math.atan2(tip[1] - back[1], tip[0] - back[0])
    wings = [
        (tip[0] - size * math.cos(angle + turn), tip[1] - size * math.sin(angle + turn))
        for turn in (0.42, -0.42)
    ]
    draw.polygon([(float(tip[0]), float(tip[1])), *wings], fill=colour)


def _side(draw: ImageDraw.ImageDraw, area: PlotArea, lines: Sequence[PlanLine], bottom: int) -> None:
    """Names at the line starts, legend, list of suspects, scale bar and arrow."""
    face = font(13)
    room = max(1, math.ceil(len(lines) / 40))
    for k, line in enumerate(lines):
        if k % room and not line.suspected:
            continue
        start, ahead = area.to_px(line.xy_m[0]), area.to_px(line.xy_m[-1])
        back = (start - ahead) / max(1.0, float(np.hypot(*(start - ahead))))
        at = start + 13 * back
        colour = OUTLINE if line.suspected else SOFT
        if abs(back[0]) > abs(back[1]):
            draw.text(tuple(at), line.name, font=face, fill=colour, anchor="rm" if back[0] < 0 else "lm")
        else:
            label = line.name[-3:] if len(lines) > 14 else line.name
            draw.text(tuple(at), label, font=font(11), fill=colour, anchor="mb" if back[1] < 0 else "mt")
    x, y = area.left_px + area.width_px + 60, area.top_px
    plain, bold = font(16), font(16, bold=True)
    room_px = _WIDTH - x - 20
    for colour, wide, words in (
        (INK, 2, "as the site file says"),
        (RIGHTED, 2, "put right from the data"),
        (OUTLINE, 4, "dashed: look at it"),
    ):
        for a in (0, 14, 28) if wide == 4 else (0,):
            draw.line((x + a, y + 10, x + (a + 8 if wide == 4 else 34), y + 10), fill=colour, width=wide)
        draw.text((x + 44, y), words, font=plain, fill=INK)
        y += 26
    draw.ellipse((x + 13, y + 6, x + 21, y + 14), fill=PAPER, outline=INK, width=2)
    draw.text((x + 44, y), "start; arrows: way walked", font=plain, fill=INK)
    y += 44
    suspects = [ln for ln in lines if ln.suspected]
    if suspects:
        draw.text((x, y), "To look at", font=bold, fill=INK)
        y += 26
    for k, line in enumerate(suspects):
        if y > bottom - 250:
            draw.text((x, y), f"and {len(suspects) - k} more in the table", font=plain, fill=INK)
            break
        words = fit_text(f"{line.name}: {', '.join(line.suspected)}", plain, room_px)
        draw.text((x, y), words, font=plain, fill=OUTLINE)
        y += 23
    north_arrow(draw, (x + 60, bottom - 150), 70, mapped=False)
    scale_bar(draw, (x, bottom - 55), area.px_per_m, 200)
