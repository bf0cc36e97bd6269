"""What was found, as the page shows it: a path on the plan and a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from gridmap.deliver.layers import Layer
from gridmap.model import Float64

_SHAPES = {"linear": "long and narrow", "outlines": "with an outline", "points": "small"}


@dataclass(frozen=True, slots=True)
class PageFeature:
    """One thing found.

    Attributes
    ----------
    name : str
        Its id in the GIS layers.
    en_m : (vertex, 2) float64
        Path on the map, metres; one vertex is a point.
    closed : bool
        Whether the path is a ring.
    words : str
        One sentence: shape, depth and how sure.
    """

    name: str
    en_m: Float64
    closed: bool
    words: str


def page_features(layers: Sequence[Layer]) -> tuple[PageFeature, ...]:
    """Take what was found from the layers `linear`, `outlines` and `points`; other layers are passed over."""
    return tuple(
        PageFeature(
            str(row["id"]),
            shapely.get_coordinates(row.geometry),
            row.geometry.geom_type == "Polygon",
            _words(layer.name, row),
        )
        for layer in layers
        if layer.name in _SHAPES
        for _, row in layer.frame.iterrows()
    )


def _words(layer: str, row) -> str:  # type: ignore[no-untyped-def]
    said = [f"top {row['depth_top_m']:.2f} m deep (1 sigma {row['depth_sd_m']:.2f} m)"]
    if layer == "linear":
        ends = abs(row["depth_end_m"] - row["depth_start_m"])
        if ends > 2 * row["depth_sd_m"]:
            said[0] = (
                f"top from {row['depth_start_m']:.2f} to {row['depth_end_m']:.2f} m deep "
                f"(1 sigma {row['depth_sd_m']:.2f} m)"
            )
        said += [f"{row['length_m']:.1f} m long", f"seen by {row['crossings']} lines"]
    elif layer == "outlines":
        said.append(f"{row['length_m']:.1f} by {row['width_m']:.1f} m")
        if np.isfinite(row["thickness_m"]):
            said.append(f"{row['thickness_m']:.1f} m thick")
    note = f" {row['note']}" if row["note"] else ""
    return f"{_SHAPES[layer]}: {', '.join(said)}; confidence {row['confidence']:.2f}.{note}"
