"""Layers as one GeoJSON file for the web (RFC 7946: WGS 84 longitude and latitude)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry import MultiPolygon, Polygon, mapping
from shapely.geometry.polygon import orient

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.layers import Layer
from gridmap.deliver.strict_json import to_text
from gridmap.errors import OurFaultError
from gridmap.files import write_text

_DIGITS = 7  # of a degree: 1.1 cm
_HEIGHT_DIGITS = 3


def write_geojson(path: Path, layers: Sequence[Layer], crs_wkt: str | None) -> None:
    """Write layers as one FeatureCollection, whole or not at all.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    layers : sequence of Layer
        Their features stand in this order, each with a property `layer`.
    crs_wkt : str or None
        CRS of the geometries as WKT 2.

    Raises
    ------
    OurFaultError
        If there is no CRS: GeoJSON has no local grid, so the caller must leave the file out.

    Notes
    -----
    Outer rings run anticlockwise (RFC 7946, 3.1.6); missing numbers are null; seven decimals, 1.1 cm.
    """
    if crs_wkt is None:
        raise OurFaultError(f"{path.name}: GeoJSON needs a CRS; a map in local metres has none")
    features: list[dict[str, Any]] = []
    for layer in layers:
        frame = layer.frame.set_crs(crs_wkt, allow_override=True).to_crs(4326)
        fields = frame.drop(columns=frame.geometry.name).astype(object)
        fields = fields.where(fields.notna(), None).to_dict("records")
        for properties, geometry in zip(fields, frame.geometry, strict=True):
            features.append(
                {
                    "type": "Feature",
                    "properties": {"layer": layer.name, **properties},
                    "geometry": None if geometry is None else _geometry(geometry),
                }
            )
    # One feature a line: short, and still fit for a comparison by eye.
    body = ",\n".join(to_text(feature, indent=None).rstrip() for feature in features)
    head = to_text({"type": "FeatureCollection", "caution": CAUTION}, indent=None).rstrip().removesuffix("}")
    write_text(path, f'{head}, "features": [\n{body}\n]}}\n')


def _geometry(geometry: shapely.Geometry) -> dict[str, Any]:
    if isinstance(geometry, Polygon):
        geometry = orient(geometry)
    elif isinstance(geometry, MultiPolygon):
        geometry = MultiPolygon([orient(part) for part in geometry.geoms])
    known = dict(mapping(geometry))
    known["coordinates"] = _rounded(known["coordinates"])
    return known


def _rounded(coordinates: Any) -> list[Any]:
    if coordinates and isinstance(coordinates[0], float | int):
        return [
            *(round(float(number), _DIGITS) for number in coordinates[:2]),
            *(round(float(number), _HEIGHT_DIGITS) for number in coordinates[2:]),
        ]
    return [_rounded(part) for part in coordinates]
