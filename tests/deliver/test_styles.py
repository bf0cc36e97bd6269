"""Styles: well formed XML that says the colour, whatever the field is called."""

from xml.etree import ElementTree

import pytest

from gridmap.deliver.styles import Style, qml, sld

SLD = "{http://www.opengis.net/sld}"


@pytest.mark.parametrize("geometry", ["Point", "LineString", "Polygon", "LineString Z"])
def test_qml_holds_colour_and_size_for_newer_and_older_clients(geometry):
    """Option and prop children say the same, and the colour is red, green, blue, alpha."""
    root = ElementTree.fromstring(qml(Style("#0a0b0c", 0.4), geometry))
    layer = root.find("renderer-v2/symbols/symbol/layer")
    newer = {o.get("name"): o.get("value") for o in layer.findall("Option/Option")}
    older = {p.get("k"): p.get("v") for p in layer.findall("prop")}
    assert newer == older
    assert any(value.startswith("10,11,12,") for value in newer.values())
    assert "0.4" in newer.values()
    assert root.get("labelsEnabled") == "0"


@pytest.mark.parametrize("geometry", ["Point", "LineString", "Polygon Z"])
def test_a_label_survives_awkward_field_names(geometry):
    """A field name with quotes and angle brackets is escaped in both forms."""
    style = Style("#102030", 1.0, label='a<"b">&c')
    root = ElementTree.fromstring(qml(style, geometry))
    assert root.find("labeling/settings/text-style").get("fieldName") == 'a<"b">&c'
    server = ElementTree.fromstring(sld(style, geometry, "x & y"))
    assert server.find(f"{SLD}NamedLayer/{SLD}Name").text == "x & y"
    assert server.find(f".//{SLD}Label/{{http://www.opengis.net/ogc}}PropertyName").text == 'a<"b">&c'


def test_sld_sizes_are_standard_pixels():
    """OGC 02-070 gives a pixel of 0.28 mm: a line of 0.56 mm is two pixels wide."""
    root = ElementTree.fromstring(sld(Style("#102030", 0.56), "LineString", "x"))
    values = {p.get("name"): p.text for p in root.iter(f"{SLD}CssParameter")}
    assert values == {"stroke": "#102030", "stroke-width": "2.00"}
