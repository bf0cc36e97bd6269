"""features.dxf: what stands, in metres, one layer a kind, for any CAD."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import shapely
from ezdxf import units
from ezdxf.colors import rgb2int

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.feature_layers import standing
from gridmap.deliver.layers import Layer
from gridmap.deliver.marking import marking_colour, rgb, short_label
from gridmap.files import whole_file

_PLAIN = {"linear": 6, "outlines": 6, "points": 6, "lines_walked": 9, "control": 3, "caution": 1}
"""Layers and their colour numbers: magenta, magenta, magenta, light grey, green, red."""
_LABELS = {"linear": "linear_labels", "outlines": "outlines_labels", "points": "points_labels"}
_TEXT_M = 0.25
"""Height of a label, metres."""
_WRAP = 90


def write_dxf(path: Path, layers: Sequence[Layer], title: str, frame_words: str) -> None:
    """Write a drawing (DXF R2010), whole or not at all; the same input gives the same bytes.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    layers : sequence of Layer
        `linear`, `outlines`, `points`, `lines_walked`, `control`; others are passed over. What a person rejected is
        left out.
    title : str
        Name of the site.
    frame_words : str
        What the co-ordinates are, such as "EPSG:32633, metres".

    Notes
    -----
    $INSUNITS 6, metres. Lines and outlines are 3D polylines, Z as in features.gpkg: minus the depth, or elevation.
    Outlines and points of known class have the colour of the public marking code.
    """
    with _fixed_dates():
        doc = ezdxf.new("R2010", units=units.M)
        doc.header["$MEASUREMENT"] = 1
        doc.header["$PDMODE"] = 35  # points as a cross in a circle
        doc.header["$PDSIZE"] = 0.2
        space = doc.modelspace()
        for name, colour in {**_PLAIN, **dict.fromkeys(_LABELS.values(), 7)}.items():
            doc.layers.add(name, color=colour)
        south = [np.inf, np.inf]
        for layer in layers:
            if layer.name not in _PLAIN:
                continue
            for _, row in standing(layer).iterrows():
                _draw(space, layer.name, row)
                west, low, _, _ = row.geometry.bounds
                south = [min(south[0], west), min(south[1], low)]
        at = [0.0 if not np.isfinite(v) else float(v) for v in south]
        words = [title, frame_words, *_lines(layers), *_wrapped(CAUTION)]
        for k, line in enumerate(words):
            text = space.add_text(line, height=_TEXT_M, dxfattribs={"layer": "caution"})
            text.set_placement((at[0], at[1] - 1.0 - 1.6 * _TEXT_M * k))
        for kind in sorted(doc.entitydb.dxf_types_in_use()):  # ezdxf would take them in the order of a set.
            doc.classes.add_class(kind)
        with whole_file(path) as part:
            doc.saveas(part)


def _lines(layers: Sequence[Layer]) -> list[str]:
    """Say what Z is, as the layer of lines says it."""
    words = next((layer.description for layer in layers if layer.name == "linear"), "")
    return [s.strip() + "." for s in words.split(". ") if s.startswith("Z is")]


def _draw(space: Any, layer: str, row: Any) -> None:
    style: dict[str, Any] = {"layer": layer}
    colour = marking_colour(row.get("class"))
    if layer in _LABELS and row["class"] and colour != marking_colour(None):
        style["true_color"] = rgb2int(rgb(colour))
    xyz = shapely.get_coordinates(row.geometry, include_z=True)
    xyz = np.nan_to_num(xyz)
    if row.geometry.geom_type == "Point":
        space.add_point(tuple(xyz[0]), dxfattribs=style)
    elif row.geometry.geom_type == "Polygon":
        for ring in (row.geometry.exterior, *row.geometry.interiors):
            points = np.nan_to_num(shapely.get_coordinates(ring, include_z=True))[:-1]
            space.add_polyline3d([tuple(p) for p in points], close=True, dxfattribs=style)
    else:
        space.add_polyline3d([tuple(p) for p in xyz], dxfattribs=style)
    if layer in _LABELS:
        middle = xyz[len(xyz) // 2]
        label = short_label(row).replace("\N{PLUS-MINUS SIGN}", "%%p")
        text = space.add_text(label, height=_TEXT_M, dxfattribs={**style, "layer": _LABELS[layer]})
        text.set_placement((middle[0] + 0.1, middle[1] + 0.1, middle[2]))
    elif layer == "control":
        text = space.add_text(str(row["name"]), height=_TEXT_M, dxfattribs=style)
        text.set_placement((xyz[0, 0] + 0.15, xyz[0, 1] + 0.15))


def _wrapped(text: str) -> Iterator[str]:
    line = ""
    for word in text.split():
        if len(line) + len(word) > _WRAP:
            yield line
            line = ""
        line = f"{line} {word}".strip()
    yield line


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Have ezdxf write a fixed date and identity instead of the present ones."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
