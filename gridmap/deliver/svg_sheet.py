"""A drawing as SVG 1.1, in tenths of a millimetre: sharp at any size, and its words stay words."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from PIL import Image

from gridmap.deliver.drawing import HATCH
from gridmap.model import Float64

MM = 10.0
"""Units of a drawing in one millimetre."""
_POINT = 25.4 / 72 * MM
_FACES = "'Source Sans 3', 'DejaVu Sans', Verdana, sans-serif"


class SvgSheet:
    """A drawing that grows; x runs right and y down, tenths of a millimetre.

    Parameters
    ----------
    width_mm, height_mm : float
        Size on paper.
    title : str
        What the drawing shows, for who cannot see it.
    key : str
        Begins the names within the drawing, so that several can stand in one page.
    """

    def __init__(self, width_mm: float, height_mm: float, title: str, key: str) -> None:
        self._key = key
        self.width, self.height = width_mm * MM, height_mm * MM
        self._title = title
        self._parts: list[str] = []
        self._clips = 0

    def line(
        self,
        points: Float64 | Sequence[tuple[float, float]],
        colour: str,
        width_mm: float = 0.2,
        *,
        dash: str = "",
    ) -> None:
        """Draw a path through points (k, 2)."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<polyline points="{_points(points)}" fill="none" stroke="{colour}" stroke-width="{_n(width_mm * MM)}"'
            f' stroke-linejoin="round" stroke-linecap="round"{dashed}/>'
        )

    def polygon(
        self,
        points: Float64 | Sequence[tuple[float, float]],
        fill: str,
        opacity: float = 1.0,
        stroke: str = "none",
        width_mm: float = 0.2,
    ) -> None:
        """Fill an area with corners (k, 2)."""
        self._parts.append(
            f'<polygon points="{_points(points)}" fill="{fill}" fill-opacity="{_n(opacity)}" stroke="{stroke}"'
            f' stroke-width="{_n(width_mm * MM)}" stroke-linejoin="round"/>'
        )

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        fill: str,
        stroke: str = "none",
        width_mm: float = 0.15,
        opacity: float = 1.0,
    ) -> None:
        """Draw a rectangle from its upper left corner."""
        self._parts.append(
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}" fill="{fill}"'
            f' fill-opacity="{_n(opacity)}" stroke="{stroke}" stroke-width="{_n(width_mm * MM)}"/>'
        )

    def circle(
        self, x: float, y: float, radius: float, fill: str, stroke: str, width_mm: float = 0.3
    ) -> None:
        """Draw a circle."""
        self._parts.append(
            f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}" fill="{fill}" stroke="{stroke}"'
            f' stroke-width="{_n(width_mm * MM)}"/>'
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size_pt: float = 7.5,
        colour: str = "#1c242a",
        anchor: str = "start",
        bold: bool = False,
        turn_deg: float = 0.0,
    ) -> None:
        """Write one row; y is its base line, `anchor` start, middle or end."""
        turned = f' transform="rotate({_n(turn_deg)} {_n(x)} {_n(y)})"' if turn_deg else ""
        weight = ' font-weight="600"' if bold else ""
        self._parts.append(
            f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size_pt * _POINT)}" fill="{colour}" text-anchor="{anchor}"'
            f"{weight}{turned}>{escape(words)}</text>"
        )

    def image(self, x: float, y: float, width: float, height: float, picture: Image.Image) -> None:
        """Lay a picture into a rectangle, stretched, each of its cells with sharp edges."""
        held = io.BytesIO()
        picture.save(held, format="PNG", compress_level=6)
        data = base64.b64encode(held.getvalue()).decode("ascii")
        self._parts.append(
            f'<image x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}" preserveAspectRatio="none"'
            f' image-rendering="pixelated" href="data:image/png;base64,{data}"/>'
        )

    def hatched(self, x: float, y: float, width: float, height: float) -> None:
        """Fill a rectangle with the pattern that means "no data"."""
        self._parts.append(
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}" fill="url(#{self._key}-blank)"/>'
        )

    def clipped(self, x: float, y: float, width: float, height: float) -> None:
        """Show what follows inside this rectangle only, until `unclipped`."""
        self._clips += 1
        name = f"{self._key}-clip{self._clips}"
        self._parts.append(
            f'<clipPath id="{name}"><rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"/>'
            f'</clipPath><g clip-path="url(#{name})">'
        )

    def unclipped(self) -> None:
        """End what `clipped` began."""
        self._parts.append("</g>")

    def svg(self) -> str:
        """Return the file's text; the same drawing gives the same text."""
        dark, light = ("#{:02x}{:02x}{:02x}".format(*shade) for shade in HATCH)
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(self.width / MM)}mm" height="{_n(self.height / MM)}mm"'
            f' viewBox="0 0 {_n(self.width)} {_n(self.height)}" role="img" aria-label={quoteattr(self._title)}'
            f' font-family="{_FACES}">\n'
            f'<defs><pattern id="{self._key}-blank" width="8" height="8" patternUnits="userSpaceOnUse">'
            f'<rect width="8" height="8" fill="{light}"/>'
            f'<path d="M-2,2 l4,-4 M0,8 l8,-8 M6,10 l4,-4" stroke="{dark}" stroke-width="1.6"/></pattern></defs>\n'
            + "\n".join(self._parts)
            + "\n</svg>\n"
        )


def _n(value: float) -> str:
    """Write a number with two decimals at most."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _points(points: Float64 | Sequence[tuple[float, float]]) -> str:
    return " ".join(
        f"{_n(float(x))},{_n(float(y))}" for x, y in np.asarray(points, dtype=float).reshape(-1, 2)
    )
