"""How a raster looks when a GIS opens it: one colour table between two ends, as QML and as OGC SLD 1.0."""

from __future__ import annotations

from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from gridmap.deliver.colours import table

_STOPS = 11


@dataclass(frozen=True, slots=True)
class RasterStyle:
    """One colour table for a raster.

    Attributes
    ----------
    table_name : str
        One of `colours.TABLES`.
    ends : (float, float)
        Values of its ends; what lies beyond has the end colours.
    unit : str
        Unit of the values, such as "m"; may be empty.
    band : int
        The band that is shown first; 1 is the first.
    """

    table_name: str
    ends: tuple[float, float]
    unit: str = ""
    band: int = 1

    def stops(self) -> list[tuple[float, str, str]]:
        """Value, colour as "#rrggbb" and label of each of eleven even steps."""
        values = np.linspace(*self.ends, _STOPS)
        colours = table(self.table_name)[np.round(np.linspace(0, 255, _STOPS)).astype(int)]
        return [
            (float(f"{value:.6g}"), "#{:02x}{:02x}{:02x}".format(*colour), f"{value:.3g} {self.unit}".strip())
            for value, colour in zip(values, colours, strict=True)
        ]


def raster_qml(style: RasterStyle) -> str:
    """Write the style as QML; beside a raster and of its name it is found by desktop clients."""
    items = "".join(
        f'<item alpha="255" color="{colour}" label={quoteattr(label)} value="{value:g}"/>'
        for value, colour, label in style.stops()
    )
    low, high = (f"{end:g}" for end in style.ends)
    return (
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
        '<qgis version="3.4.0" styleCategories="Symbology"><pipe>'
        f'<rasterrenderer type="singlebandpseudocolor" band="{style.band}" opacity="1" alphaBand="-1"'
        f' classificationMin="{low}" classificationMax="{high}"><rasterTransparency/><rastershader>'
        f'<colorrampshader colorRampType="INTERPOLATED" classificationMode="1" clip="0" minimumValue="{low}"'
        f' maximumValue="{high}">{items}</colorrampshader></rastershader></rasterrenderer></pipe></qgis>\n'
    )


def raster_sld(style: RasterStyle, name: str) -> str:
    """Write the style as a Styled Layer Descriptor 1.0.0 (OGC 02-070) for map servers."""
    entries = "".join(
        f'<ColorMapEntry color="{colour}" quantity="{value:g}" label={quoteattr(label)}/>'
        for value, colour, label in style.stops()
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<StyledLayerDescriptor version="1.0.0" xmlns="http://www.opengis.net/sld">'
        f"<NamedLayer><Name>{escape(name)}</Name><UserStyle><FeatureTypeStyle><Rule><RasterSymbolizer>"
        f"<ChannelSelection><GrayChannel><SourceChannelName>{style.band}</SourceChannelName></GrayChannel>"
        f'</ChannelSelection><ColorMap type="ramp">{entries}</ColorMap></RasterSymbolizer></Rule></FeatureTypeStyle>'
        "</UserStyle></NamedLayer></StyledLayerDescriptor>\n"
    )
