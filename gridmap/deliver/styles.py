"""How a layer looks when a GIS opens it: one small record, written as QML and as OGC SLD 1.0."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr


@dataclass(frozen=True, slots=True)
class Kind:
    """Features that are drawn in a colour of their own.

    Attributes
    ----------
    title : str
        In the legend.
    colour : str
        Six hexadecimal digits after #.
    field : str
        Field that tells them.
    values : tuple of str
        What stands in it, in small letters.
    """

    title: str
    colour: str
    field: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Style:
    """One symbol for a layer, perhaps with colours by kind, and perhaps a label.

    Attributes
    ----------
    colour : str
        Six hexadecimal digits after #, such as "#4a5a6a".
    size_mm : float
        Width of a line, width of an outline, or side of a point symbol, millimetres on screen or paper.
    label : str or None
        Field that is written beside each feature.
    kinds : tuple of Kind
        The first that fits gives the colour; `colour` is that of all others.
    others : str
        Title of all others in the legend.
    """

    colour: str
    size_mm: float
    label: str | None = None
    kinds: tuple[Kind, ...] = ()
    others: str = ""


def qml(style: Style, geometry: str) -> str:
    """Write a style as QML, the XML that desktop GIS clients keep in `layer_styles.styleQML`.

    Parameters
    ----------
    style : Style
        What to draw.
    geometry : str
        "Point", "LineString" or "Polygon", with or without " Z".
    """
    labels = ""
    if style.label is not None:
        labels = (
            '<labeling type="simple"><settings>'
            f'<text-style fieldName={quoteattr(style.label)} isExpression="0" fontSize="8" '
            f'fontSizeUnit="Point" textColor="{_opaque(style.colour)}"><text-buffer bufferDraw="1" bufferSize="0.8" '
            'bufferSizeUnits="MM" bufferColor="255,255,255,255"/></text-style>'
            "</settings></labeling>"
        )
    colours = [*(k.colour for k in style.kinds), style.colour]
    symbols = "".join(_symbol(k, c, style.size_mm, geometry) for k, c in enumerate(colours))
    rules = ""
    if style.kinds:
        told = [(k.title, _expression(k, _before(k, style.kinds))) for k in style.kinds]
        rules = "".join(
            f'<rule key="{{{k}}}" symbol="{k}" label={quoteattr(title)} filter={quoteattr(when)}/>'
            for k, (title, when) in enumerate([*told, (style.others, "ELSE")])
        )
        rules = f'<rules key="{{all}}">{rules}</rules>'
    renderer = "RuleRenderer" if style.kinds else "singleSymbol"
    return (
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
        f'<qgis version="3.4.0" labelsEnabled="{int(bool(labels))}" styleCategories="Symbology|Labeling">'
        f'<renderer-v2 type="{renderer}" symbollevels="0" enableorderby="0" forceraster="0">{rules}'
        f"<symbols>{symbols}</symbols></renderer-v2>{labels}</qgis>\n"
    )


def _opaque(colour: str) -> str:
    return ",".join(str(int(colour[i : i + 2], 16)) for i in (1, 3, 5)) + ",255"


def _before(kind: Kind, kinds: tuple[Kind, ...]) -> list[Kind]:
    """Earlier kinds that look at another field: clients draw every rule that fits, so this one leaves them out."""
    return [k for k in kinds[: kinds.index(kind)] if k.field != kind.field]


def _expression(kind: Kind, before: Sequence[Kind] = ()) -> str:
    """Say in the client's expressions which features are of a kind, whatever the letters' size."""
    field = kind.field.replace('"', '""')
    values = ", ".join("'" + v.replace("'", "''") + "'" for v in kind.values)
    own = f"lower(trim(coalesce(\"{field}\", ''))) IN ({values})"
    return " AND ".join([*(f"NOT ({_expression(k)})" for k in before), own])


def _symbol(number: int, colour: str, size_mm: float, geometry: str) -> str:
    """One numbered symbol in one colour."""
    solid = _opaque(colour)
    size = f"{size_mm:g}"
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
            "color": solid.removesuffix("255") + "64",
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
    return (
        f'<symbol type="{symbol}" name="{number}" alpha="1" clip_to_extent="1">'
        f'<layer class="{layer}" enabled="1" locked="0" pass="0">'
        f'<Option type="Map">{newer}</Option>{older}</layer></symbol>'
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
    label = ""
    if style.label is not None:
        text = f"<ogc:PropertyName>{escape(style.label)}</ogc:PropertyName>"
        halo = f"<Halo><Fill>{_css('fill', '#ffffff')}</Fill></Halo>"
        ink = f"<Fill>{_css('fill', style.colour)}</Fill>"
        label = f"<TextSymbolizer><Label>{text}</Label>{halo}{ink}</TextSymbolizer>"
    rules = "".join(
        f"<Rule><Title>{escape(k.title)}</Title><ogc:Filter>{_filter(k, _before(k, style.kinds))}</ogc:Filter>"
        f"{_symbolizer(k.colour, style.size_mm, geometry)}{label}</Rule>"
        for k in style.kinds
    )
    rest = f"<Title>{escape(style.others)}</Title><ElseFilter/>" if style.kinds else ""
    rules += f"<Rule>{rest}{_symbolizer(style.colour, style.size_mm, geometry)}{label}</Rule>"
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<StyledLayerDescriptor version="1.0.0" xmlns="http://www.opengis.net/sld" '
        'xmlns:ogc="http://www.opengis.net/ogc">'
        f"<NamedLayer><Name>{escape(name)}</Name><UserStyle><FeatureTypeStyle>{rules}"
        "</FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>\n"
    )


def _css(key: str, value: str) -> str:
    return f'<CssParameter name="{key}">{value}</CssParameter>'


def _filter(kind: Kind, before: Sequence[Kind] = ()) -> str:
    """Say which features are of a kind: Filter Encoding 1.0 (OGC 02-059) compares letter by letter."""
    field = f"<ogc:PropertyName>{escape(kind.field)}</ogc:PropertyName>"
    words = [w for v in kind.values for w in dict.fromkeys((v, v.capitalize(), v.upper()))]
    same = "".join(
        f"<ogc:PropertyIsEqualTo>{field}<ogc:Literal>{escape(w)}</ogc:Literal></ogc:PropertyIsEqualTo>"
        for w in words
    )
    own = f"<ogc:Or>{same}</ogc:Or>"
    if not before:
        return own
    return f"<ogc:And>{''.join(f'<ogc:Not>{_filter(k)}</ogc:Not>' for k in before)}{own}</ogc:And>"


def _symbolizer(colour: str, size_mm: float, geometry: str) -> str:
    pixels = f"{size_mm / 0.28:.2f}"
    stroke = f"<Stroke>{_css('stroke', colour)}{_css('stroke-width', pixels)}</Stroke>"
    kind = geometry.removesuffix(" Z")
    if kind == "LineString":
        symbol = f"<LineSymbolizer>{stroke}</LineSymbolizer>"
    elif kind == "Point":
        symbol = (
            "<PointSymbolizer><Graphic><Mark><WellKnownName>triangle</WellKnownName>"
            f"<Fill>{_css('fill', colour)}</Fill></Mark><Size>{pixels}</Size></Graphic>"
            "</PointSymbolizer>"
        )
    else:
        fill = f"<Fill>{_css('fill', colour)}{_css('fill-opacity', '0.25')}</Fill>"
        symbol = f"<PolygonSymbolizer>{fill}{stroke}</PolygonSymbolizer>"
    return symbol
