"""features.kml: what stands, for a phone (OGC KML 2.2, 07-147r2; WGS 84)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Xml

import shapely

from gridmap.deliver.caution import CAUTION, CAUTION_SHORT
from gridmap.deliver.feature_layers import standing
from gridmap.deliver.layers import Layer
from gridmap.deliver.marking import MARKING, NEUTRAL, marking_colour, short_label
from gridmap.errors import OurFaultError
from gridmap.files import write_text

_SPACE = "http://www.opengis.net/kml/2.2"
_TITLES = {"linear": "Lines", "outlines": "Areas", "points": "Points"}


def write_kml(path: Path, layers: Sequence[Layer], crs_wkt: str | None, title: str) -> None:
    """Write the layers `linear`, `outlines` and `points` as one KML file, whole or not at all.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    layers : sequence of Layer
        Others are passed over; what a person rejected is left out.
    crs_wkt : str or None
        CRS of the geometries as WKT 2.
    title : str
        Name of the site.

    Raises
    ------
    OurFaultError
        If there is no CRS: KML knows longitude and latitude only.

    Notes
    -----
    Shapes are clamped to the ground: the depth stands in the description, where no viewer hides it.
    """
    if crs_wkt is None:
        raise OurFaultError(f"{path.name}: KML needs a CRS; a map in local metres has none")
    root = Xml.Element("kml", xmlns=_SPACE)
    document = _add(root, "Document")
    _add(document, "name", title)
    _add(document, "description", CAUTION)
    for colour in sorted({NEUTRAL, *MARKING.values()}):
        _style(document, colour)
    for layer in layers:
        if layer.name not in _TITLES:
            continue
        folder = _add(document, "Folder")
        _add(folder, "name", _TITLES[layer.name])
        frame = standing(layer)
        on_globe = frame.set_crs(crs_wkt, allow_override=True).to_crs(4326)
        for (_, row), shape in zip(frame.iterrows(), on_globe.geometry, strict=True):
            mark = _add(folder, "Placemark")
            _add(mark, "name", short_label(row))
            _add(mark, "description", _words(row))
            _add(mark, "styleUrl", f"#{_key(marking_colour(row['class']))}")
            _shape(mark, shape)
    Xml.indent(root, " ")
    write_text(
        path, '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, encoding="unicode") + "\n"
    )


def _add(parent: Xml.Element, name: str, text: str | None = None) -> Xml.Element:
    element = Xml.SubElement(parent, name)
    element.text = text
    return element


def _key(colour: str) -> str:
    return f"c{colour[1:]}"


def _style(document: Xml.Element, colour: str) -> None:
    swapped = colour[5:7] + colour[3:5] + colour[1:3]  # KML: alpha, blue, green, red
    style = _add(document, "Style")
    style.set("id", _key(colour))
    for name, alpha in (("IconStyle", "ff"), ("LineStyle", "ff"), ("PolyStyle", "55")):
        part = _add(style, name)
        _add(part, "color", alpha + swapped)
        if name == "LineStyle":
            _add(part, "width", "4")


def _words(row: Any) -> str:
    depth = "Depth not known."
    if row["depth_top_m"] == row["depth_top_m"]:
        sigma = "" if row["depth_sd_m"] != row["depth_sd_m"] else f", 1 sigma {row['depth_sd_m']:.2f} m"
        depth = f"Top {row['depth_top_m']:.2f} m below the ground{sigma}."
    said = [f"Class: {row['class']}.", depth]
    if row["confidence"] == row["confidence"]:
        said.append(f"Confidence {row['confidence']:.2f}.")
    said.append(f"Status: {row['status']}.")
    said += [f"{row[name]}." for name in ("evidence", "note") if row[name]]
    return " ".join([*said, CAUTION_SHORT])


def _shape(mark: Xml.Element, shape: shapely.Geometry) -> None:
    if shape.geom_type == "Point":
        point = _add(mark, "Point")
        _add(point, "altitudeMode", "clampToGround")
        _add(point, "coordinates", _places(shape))
    elif shape.geom_type == "Polygon":
        polygon = _add(mark, "Polygon")
        _add(polygon, "tessellate", "1")
        _add(polygon, "altitudeMode", "clampToGround")
        shape = shapely.geometry.polygon.orient(shape)
        for name, ring in (
            ("outerBoundaryIs", shape.exterior),
            *(("innerBoundaryIs", r) for r in shape.interiors),
        ):
            _add(_add(_add(polygon, name), "LinearRing"), "coordinates", _places(ring))
    else:
        line = _add(mark, "LineString")
        _add(line, "tessellate", "1")
        _add(line, "altitudeMode", "clampToGround")
        _add(line, "coordinates", _places(shape))


def _places(shape: shapely.Geometry) -> str:
    """Longitude and latitude to seven decimals, 1.1 cm."""
    return " ".join(f"{lon:.7f},{lat:.7f}" for lon, lat in shapely.get_coordinates(shape))
