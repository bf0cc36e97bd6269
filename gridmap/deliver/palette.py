"""One byte a pixel: the colours that a picture of ours can have, so that its PNG is quick to write and small."""

from __future__ import annotations

from functools import cache

import numpy as np
from PIL import Image

from gridmap.deliver import drawing
from gridmap.deliver.colours import table

_STEPS, _GREYS, _ON_STRIP = 192, 32, 16


@cache
def _palette_bytes(table_name: str) -> bytes:
    """192 steps of the table, ink on paper in 32 and on the caution strip in 16, then the plain colours."""
    ink, strip, paper = (np.array(c, dtype=float) for c in (drawing.INK, drawing.STRIP, drawing.PAPER))
    steps = table(table_name)[np.round(np.linspace(0, 255, _STEPS)).astype(int)]
    on_paper = ink + np.linspace(0, 1, _GREYS)[:, None] * (paper - ink)
    on_strip = ink + np.linspace(0, 1, _ON_STRIP)[:, None] * (strip - ink)
    plain = np.array([drawing.STRIP_EDGE, drawing.OUTLINE, drawing.SOFT, drawing.RULE, *drawing.HATCH])
    colours = np.vstack([steps, np.round(on_paper), np.round(on_strip), plain])
    # Pillow looks colours up in steps of four: what is nearly white would take the place of white.
    colours = colours[(colours.min(axis=1) <= 248) | (colours.min(axis=1) == 255)]
    rest = np.repeat(colours[-1:], 256 - len(colours), axis=0)
    return np.vstack([colours, rest]).astype(np.uint8).tobytes()


def to_palette(image: Image.Image, table_name: str) -> Image.Image:
    """Give each pixel the nearest colour of the palette that belongs to a colour table.

    Parameters
    ----------
    image : Image
        RGB, drawn with the colours of `drawing` and of the table.
    table_name : str
        One of `colours.TABLES`.

    Returns
    -------
    Image
        Mode "P". A colour of the table is met to within its next step.
    """
    palette = Image.new("P", (1, 1))
    palette.putpalette(_palette_bytes(table_name))
    return image.quantize(palette=palette, dither=Image.Dither.NONE)
