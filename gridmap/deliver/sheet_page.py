"""A page of paper (A4) measured in millimetres from its upper left corner, drawn by matplotlib's PDF backend."""

from __future__ import annotations

import textwrap
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from gridmap.deliver.caution import CAUTION
from gridmap.files import whole_file

WIDE_MM, HIGH_MM, MARGIN_MM = 210.0, 297.0, 15.0
FOOT_MM = 268.0
"""Below this lies the caution."""
_MM_A_POINT = 25.4 / 72
_GLYPH = 0.56
"""Width of the mean letter of DejaVu Sans over its size."""
_STYLE = {"pdf.fonttype": 42, "font.family": "DejaVu Sans", "text.parse_math": False, "text.usetex": False}


class Page:
    """One page; x runs right and y down, millimetres. `kind` stands at its foot with its number."""

    def __init__(self, title: str, number: int, kind: str = "field sheet") -> None:
        from matplotlib.figure import Figure

        self.figure: Any = Figure(figsize=(WIDE_MM / 25.4, HIGH_MM / 25.4))
        self.axes: Any = self.figure.add_axes((0, 0, 1, 1))
        self.axes.set(xlim=(0, WIDE_MM), ylim=(HIGH_MM, 0))
        self.axes.axis("off")
        self.text(MARGIN_MM, 14, short(title, 150, 13), size=13, bold=True)
        self.rule(20)
        self.rule(FOOT_MM, colour="#c47a10")
        self.paragraph(MARGIN_MM, FOOT_MM + 4.5, CAUTION, WIDE_MM - 2 * MARGIN_MM, size=7.5)
        self.text(WIDE_MM - MARGIN_MM, 289, f"gridmap {kind}, page {number}", size=7, right=True)

    def text(
        self, x: float, y: float, words: str, *, size: float = 9, bold: bool = False, right: bool = False
    ) -> None:
        """Write one row; y is its base line."""
        self.axes.text(
            x,
            y,
            words,
            size=size,
            weight="bold" if bold else "normal",
            ha="right" if right else "left",
            va="baseline",
        )

    def paragraph(
        self, x: float, y: float, words: str, width: float, *, size: float = 9, bold: bool = False
    ) -> float:
        """Write rows of at most `width` millimetres; return the base line of the next row."""
        for row in wrapped(words, width, size):
            self.text(x, y, row, size=size, bold=bold)
            y += 1.35 * size * _MM_A_POINT
        return y

    def rule(self, y: float, *, colour: str = "#1c242a", width: float = 0.8) -> None:
        """Draw a line from margin to margin."""
        self.axes.plot([MARGIN_MM, WIDE_MM - MARGIN_MM], [y, y], color=colour, lw=width)

    def box(self, x: float, y: float, side: float = 3.6) -> None:
        """Draw a tick box that stands on the base line y."""
        self.axes.plot(
            [x, x + side, x + side, x, x],
            [y + 0.4, y + 0.4, y + 0.4 - side, y + 0.4 - side, y + 0.4],
            color="k",
            lw=0.8,
        )

    def blank(self, x: float, y: float, width: float) -> None:
        """Draw a rule to write on."""
        self.axes.plot([x, x + width], [y + 0.8, y + 0.8], color="#5c6770", lw=0.4)


def wrapped(words: str, width_mm: float, size: float) -> Sequence[str]:
    """Break text so that each row is at most so wide, by the mean width of a letter."""
    return textwrap.wrap(words, max(4, int(width_mm / (_GLYPH * size * _MM_A_POINT)))) or [""]


def short(words: str, width_mm: float, size: float) -> str:
    """Cut text to one row."""
    rows = wrapped(words, width_mm, size)
    return rows[0] if len(rows) == 1 else rows[0].rstrip() + " ..."


def write_pages(path: Path, draw: Callable[[], Sequence[Page]], title: str) -> None:
    """Write pages as one PDF with its fonts inside, the same bytes each time, whole or not at all."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    about = {
        "Title": title,
        "Creator": "gridmap",
        "Producer": "gridmap",
        "CreationDate": None,
        "Subject": CAUTION,
    }
    with whole_file(path) as temporary, rc_context(_STYLE), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a letter that the font lacks is drawn as a box
        with PdfPages(temporary, metadata=about) as pages:
            for page in draw():
                pages.savefig(page.figure)
