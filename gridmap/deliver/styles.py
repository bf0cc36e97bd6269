"""How a layer looks when a GIS opens it: one small record, written as QML and as OGC SLD 1.0."""

from __future__ import annotations

from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr


@dataclass(frozen=True, slots=True)
class Style:
    """One symbol for a whole layer, and perhaps a label.

    Attributes
    ----------
    colour : str
        Six hexadecimal digits after #, such as "#4a5a6a".
    size_mm : float
        Width of a line, width of an outline, or side of a point symbol, millimetres on screen or paper.
    label : str or None
        Field that is written beside each feature.
    """

    colour: str
    size_mm: float
    label: str | None = None


def qml(style: Style, geometry: str) -> str:
    """Write a style as QML, the XML that desktop GIS clients keep in `layer_styles.styleQML`.

    Parameters
    ----------
    style : Style
        What to draw.
    geometry : str
        "Point", "LineString" or "Polygon", with or without " Z".
    """
    red, green, blue = (int(style.colour[i : i + 2], 16) for i in (1, 3, 5))
    solid = f"{red},{green},{blue},255"
    size = f"{style.size_mm:g}"
    kind = geometry.removesuffix(" Z")
    if kind == "LineString":
        symbol, layer = "line", "SimpleLine"
        options = {"line_color": solid, "line_width": size, "line_width_unit": "MM", "line_style": "solid"}
    elif kind == "Point":
        symbol, layer = "marker", "SimpleMarker"
        options = {
            "name": "triangle",
            "color": solid,
            "outline_color": "255,255,255,255",
            "outline_width": "0.2",
            "size": size,
            "size_unit": "MM",
        }
    else:
        symbol, layer = "fill", "SimpleFill"
        options = {
            "color": f"{red},{green},{blue},64",
            "style": "solid",
            "outline_color": solid,
            "outline_style": "solid",
            "outline_width": size,
            "outline_width_unit": "MM",
        }
    # <Option> is what newer clients read, <prop> what older ones read.
    pairs = [(quoteattr(key), quoteattr(value)) for key, value in options.items()]
    newer = "".join(f'<Option name={key} value={value} type="QString"/>' for key, value in pairs)
    older = "".join(f"<prop k={key} v={value}/>" for key, value in pairs)
    labels = ""
    if style.label is not None:
        labels = (
            '<labeling type="simple"><settings>'
            f'<text-style fieldName={quoteattr(style.label)} isExpression="0" fontSize="8" '
            f'fontSizeUnit="Point" textColor="{solid}"><text-buffer bufferDraw="1" bufferSize="0.8" '
            'bufferSizeUnits="MM" bufferColor="255,255,255,255"/></text-style>'
            "</settings></labeling>"
        )
    return (
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
        f'<qgis version="3.4.0" labelsEnabled="{int(bool(labels))}" styleCategories="Symbology|Labeling">'
        '<renderer-v2 type="singleSymbol" symbollevels="0" enableorderby="0" forceraster="0"><symbols>'
        f'<symbol type="{symbol}" name="0" alpha="1" clip_to_extent="1">'
        f'<layer class="{layer}" enabled="1" locked="0" pass="0">'
        f'<Option type="Map">{newer}</Option>{older}</layer>'
        f"</symbol></symbols></renderer-v2>{labels}</qgis>\n"
    )


def sld(style: Style, geometry: str, name: str) -> str:
    """Write a style as a Styled Layer Descriptor 1.0.0 (OGC 02-070) for map servers, in pixels of 0.28 mm.

    Parameters
    ----------
    style, geometry
        As in `qml`.
    name : str
        Name of the layer.
    """

    def css(key: str, value: str) -> str:
        return f'<CssParameter name="{key}">{value}</CssParameter>'

    pixels = f"{style.size_mm / 0.28:.2f}"
    stroke = f"<Stroke>{css('stroke', style.colour)}{css('stroke-width', pixels)}</Stroke>"
    kind = geometry.removesuffix(" Z")
    if kind == "LineString":
        symbol = f"<LineSymbolizer>{stroke}</LineSymbolizer>"
    elif kind == "Point":
        symbol = (
            "<PointSymbolizer><Graphic><Mark><WellKnownName>triangle</WellKnownName>"
            f"<Fill>{css('fill', style.colour)}</Fill></Mark><Size>{pixels}</Size></Graphic>"
            "</PointSymbolizer>"
        )
    else:
        fill = f"<Fill>{css('fill', style.colour)}{css('fill-opacity', '0.25')}</Fill>"
        symbol = f"<PolygonSymbolizer>{fill}{stroke}</PolygonSymbolizer>"
    if style.label is not None:
        text = f"<ogc:PropertyName>{escape(style.label)}</ogc:PropertyName>"
        halo = f"<Halo><Fill>{css('fill', '#ffffff')}</Fill></Halo>"
        ink = f"<Fill>{css('fill', style.colour)}</Fill>"
        symbol += f"<TextSymbolizer><Label>{text}</Label>{halo}{ink}</TextSymbolizer>"
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<StyledLayerDescriptor version="1.0.0" xmlns="http://www.opengis.net/sld" '
        'xmlns:ogc="http://www.opengis.net/ogc">'
        f"<NamedLayer><Name>{escape(name)}</Name><UserStyle><FeatureTypeStyle><Rule>{symbol}</Rule>"
        "</FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>\n"
    )
