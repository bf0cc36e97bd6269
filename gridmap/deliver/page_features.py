"""Features as the page knows them: layer, path on the map, and every column of the row."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely

from gridmap.deliver.layers import Layer

SHOWN = ("linear", "outlines", "points", "rejected", "check", "above_ground")
"""Layers of features.gpkg that the page shows."""


@dataclass(frozen=True, slots=True)
class PageFeature:
    """One row of a layer.

    Attributes
    ----------
    layer : str
        Its layer in features.gpkg.
    shape : shapely geometry
        Point, LineString or Polygon on the map, metres.
    columns : mapping
        The row's columns by name: text, numbers or None.
    """

    layer: str
    shape: shapely.Geometry
    columns: Mapping[str, Any] = field(default_factory=dict)


def page_features(layers: Sequence[Layer]) -> tuple[PageFeature, ...]:
    """Take the rows of all layers that the page shows; other layers are passed over."""
    return tuple(
        PageFeature(layer.name, row[layer.frame.geometry.name], _columns(row, layer.frame.geometry.name))
        for layer in layers
        if layer.name in SHOWN
        for row in layer.frame.to_dict("records")
        if row[layer.frame.geometry.name] is not None and not row[layer.frame.geometry.name].is_empty
    )


def feature_json(feature: PageFeature) -> dict[str, Any]:
    """Turn a row into what the page's script reads.

    Parameters
    ----------
    feature : PageFeature
        The row.

    Returns
    -------
    dict
        `layer`; `path`, vertices as [easting, northing] to the millimetre, a ring without its last vertex; `closed`;
        `columns`, in which what is not known is left out.
    """
    closed = feature.shape.geom_type == "Polygon"
    path = shapely.get_coordinates(feature.shape.exterior if closed else feature.shape)
    return {
        "layer": feature.layer,
        "closed": closed,
        "path": np.round(path[:-1] if closed else path, 3).tolist(),
        "columns": {str(name): value for name, value in feature.columns.items() if value is not None},
    }


def _columns(row: Mapping[Any, Any], geometry: str) -> dict[str, Any]:
    return {str(name): plain_value(value) for name, value in row.items() if name != geometry}


def plain_value(value: Any) -> Any:
    """Text, truth value, number, or None where nothing is known; anything else as its words."""
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, int | float):
        return value if math.isfinite(value) else None
    return None if value != value or str(value) in ("NaT", "<NA>") else str(value)
