"""What was found, as the page draws it: a name and a path on the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from gridmap.deliver.feature_layers import standing
from gridmap.deliver.layers import Layer
from gridmap.model import Float64

_DRAWN = ("linear", "outlines", "points")


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
    """

    name: str
    en_m: Float64
    closed: bool


def page_features(layers: Sequence[Layer]) -> tuple[PageFeature, ...]:
    """Take what stands from the layers `linear`, `outlines` and `points`; other layers are passed over."""
    return tuple(
        PageFeature(name, shapely.get_coordinates(shape), shape.geom_type == "Polygon")
        for layer in layers
        if layer.name in _DRAWN
        for name, shape in zip(standing(layer)["id"], standing(layer).geometry, strict=True)
    )
