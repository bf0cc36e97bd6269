"""What the velocity rests on: fitted hyperbolas over their radargrams, and how the echoes focus."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from gridmap.deliver import drawing
from gridmap.deliver.pictures import write_picture
from gridmap.deliver.radargram import draw_radargram, plot_box, time_to_row
from gridmap.model import CleanLine, VelocityModel
from gridmap.site.records import Antenna
from gridmap.velocity.evidence import VelocityEvidence
from gridmap.velocity.fitted_curve import fitted_curve
from gridmap.velocity.focusing import VELOCITIES, FocusWindow
from gridmap.velocity.surface import SurfaceEffect, surface_effect

MOST_LINES = 3
"""Lines drawn, those with the most accepted hyperbolas."""
_SHADES = ((28, 36, 42), (176, 28, 92), (28, 104, 150), (110, 120, 40))


def draw_hyperbolas(
    line: CleanLine,
    index: int,
    interval_ns: float,
    antenna: Antenna,
    evidence: VelocityEvidence,
    effect: SurfaceEffect,
    title: str,
) -> Image.Image:
    """Draw one line with the accepted hyperbolas on it, each with its velocity.

    Parameters
    ----------
    line : CleanLine
        The line.
    index : int
        Its number in `evidence`.
    interval_ns : float
        Sample interval, nanoseconds.
    antenna, evidence, effect
        As in the velocity room.
    title : str
        Site and line.

    Returns
    -------
    Image
        RGB, the size of a radargram.
    """
    fits = evidence.fits
    time_ns = np.asarray(interval_ns * np.arange(line.traces.shape[1]), dtype=np.float64)
    image = draw_radargram(
        line.traces, line.along_m, time_ns, velocity=evidence.velocity, title=title,
        gain_note="background removed, gain fitted to the survey's decay; lines: the hyperbolas that count",
    )  # fmt: skip
    draw = ImageDraw.Draw(image)
    left, top, right, bottom = plot_box()
    first, last = float(line.along_m[0]), float(line.along_m[-1])
    for event in np.flatnonzero(fits.accepted & (fits.line == index)):
        half = min(0.5 * float(fits.depth_m[event]) + 0.35, 1.2)
        offset = np.linspace(-half, half, 61)
        at = fits.along_m[event] + offset
        inside = (at >= first) & (at <= last)
        time = fitted_curve(fits, int(event), antenna, effect, offset)
        x = left + (at - first) / (last - first) * (right - left)
        y = time_to_row(time, float(time_ns[0]), float(time_ns[-1]), top, bottom)
        points = [(float(a), float(b)) for a, b, ok in zip(x, y, inside, strict=True) if ok and b < bottom]
        if len(points) > 1:
            draw.line(points, fill=drawing.OUTLINE, width=2)
            apex = min(points, key=lambda p: p[1])
            words = f"{fits.velocity_m_per_ns[event]:.3f}"
            face = drawing.font(14, bold=True)
            box = draw.textbbox((apex[0], apex[1] - 8), words, font=face, anchor="mb")
            draw.rectangle((box[0] - 2, box[1] - 1, box[2] + 2, box[3] + 1), fill=drawing.PAPER)
            draw.text((apex[0], apex[1] - 8), words, font=face, fill=drawing.OUTLINE, anchor="mb")
    return image


def draw_focus(focus: Sequence[FocusWindow], velocity: VelocityModel, title: str) -> Image.Image:
    """Draw how well the echoes focus against velocity: the whole survey, and windows of time.

    Parameters
    ----------
    focus : sequence of FocusWindow
        From `gridmap.velocity.focusing.focusing_scan`; the first is the whole, windows of the whole follow.
    velocity : VelocityModel
        What was chosen; its mean and one deviation are shaded.
    title : str
        Name of the site.

    Returns
    -------
    Image
        RGB.
    """
    size = (1000, 640)
    image = Image.new("RGB", size, drawing.PAPER)
    strip_top = drawing.caution_strip(image)
    draw = ImageDraw.Draw(image)
    drawing.title_lines(
        draw, title, "Focus of the echoes against velocity, each curve over its own peak", size[0]
    )
    left, top, right, bottom = 70, 100, size[0] - 40, strip_top - 150
    low, high = float(VELOCITIES[0]), float(VELOCITIES[-1])

    def place(v: float, share: float) -> tuple[float, float]:
        across = np.log(v / low) / np.log(high / low)
        return left + float(across) * (right - left), bottom - share * (bottom - top)

    mean, sd = velocity.mean_m_per_ns(), velocity.sd_m_per_ns
    a, b = (place(float(np.clip(mean + k * sd, low, high)), 0.0)[0] for k in (-1, 1))
    draw.rectangle((a, top, b, bottom), fill=drawing.STRIP)
    draw.rectangle((left, top, right, bottom), outline=drawing.INK)
    for v in drawing.multiples(low, high, 0.01):
        x = place(v, 0.0)[0]
        draw.line((x, bottom, x, bottom + 6), fill=drawing.INK)
        draw.text((x, bottom + 9), f"{v:.2f}", font=drawing.font(13), fill=drawing.INK, anchor="ma")
    draw.text((right, bottom + 27), "Velocity, m/ns", font=drawing.font(14), fill=drawing.SOFT, anchor="ra")
    shown = [w for w in focus if w.where == "whole"][: len(_SHADES)]
    for k, (window, shade) in enumerate(zip(shown, _SHADES, strict=False)):
        points = [place(float(v), float(s)) for v, s in zip(VELOCITIES, window.curve, strict=True)]
        draw.line(points, fill=shade, width=4 if k == 0 else 2)
        y = bottom + 30 + 21 * k
        draw.line((left, y + 8, left + 34, y + 8), fill=shade, width=4 if k == 0 else 2)
        draw.text((left + 42, y), _words(k, window), font=drawing.font(14), fill=drawing.INK)
    words = f"Shaded: {mean:.3f} +- {sd:.3f} m/ns, the mean to 1 m. A window focuses at the RMS velocity down to it."
    draw.text((24, strip_top - 30), words, font=drawing.font(14), fill=drawing.SOFT)
    return image


def _words(k: int, window: FocusWindow) -> str:
    span = "whole record" if k == 0 else f"{window.first_ns:.0f} to {window.last_ns:.0f} ns"
    if np.isfinite(window.sd_m_per_ns):
        return (
            f"{span}: {window.velocity_m_per_ns:.3f} +- {window.sd_m_per_ns:.3f} m/ns, {window.spots} spots"
        )
    return f"{span}: no clear focus, {window.spots} spots"


def write_velocity_pictures(
    folder: Path,
    lines: Sequence[CleanLine],
    interval_ns: float,
    antenna: Antenna,
    evidence: VelocityEvidence,
    site_name: str,
) -> None:
    """Write `hyperbolas_LINE.png` for up to `MOST_LINES` lines and `focusing.png` into a new folder."""
    folder.mkdir()
    fits = evidence.fits
    count = np.bincount(fits.line[fits.accepted], minlength=len(lines))
    most = [int(i) for i in np.argsort(-count, kind="stable")[:MOST_LINES] if count[i]]
    effect = surface_effect(antenna.frequency_mhz, antenna.height_m) if most else None
    for index in most:
        assert effect is not None
        title = f"{site_name}, line {lines[index].name}"
        drawn = draw_hyperbolas(lines[index], index, interval_ns, antenna, evidence, effect, title)
        write_picture(folder / f"hyperbolas_{lines[index].name}.png", drawn)
    if evidence.focus:
        write_picture(folder / "focusing.png", draw_focus(evidence.focus, evidence.velocity, site_name))
