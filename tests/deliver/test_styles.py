"""Styles: well formed XML that says the colour, whatever the field is called."""

import sqlite3
from xml.etree import ElementTree

import pytest

from gridmap.deliver.marking import KINDS, MARKING, NEUTRAL, OTHERS
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


OGC = "{http://www.opengis.net/ogc}"
COLOURED = Style(NEUTRAL, 0.8, "id", KINDS, OTHERS)


def fits(node, row):
    """Evaluate a Filter Encoding 1.0 (OGC 02-059) expression on one row."""
    tag = node.tag.removeprefix(OGC)
    if tag == "PropertyIsEqualTo":
        return str(row.get(node[0].text)) == node[1].text
    parts = [fits(child, row) for child in node]
    return {"And": all(parts), "Or": any(parts), "Not": not parts[0], "Filter": parts[0]}[tag]


@pytest.mark.parametrize(
    ("row", "colour"),
    [
        ({"class": "gas", "status": "accepted"}, MARKING["gas"]),
        ({"class": "Water", "status": "found"}, MARKING["water"]),
        ({"class": "gas", "status": "rejected"}, "#9a9a9a"),
        ({"class": "unknown", "status": "found"}, NEUTRAL),
        ({"class": None, "status": "found"}, NEUTRAL),
    ],
)
def test_a_server_draws_each_feature_once_in_the_colour_of_its_class(row, colour):
    """OGC 02-070: every rule that fits is drawn, ElseFilter where none does; so exactly one may fit."""
    root = ElementTree.fromstring(sld(COLOURED, "LineString Z", "linear"))
    drawn = []
    for rule in root.iter(f"{SLD}Rule"):
        stroke = {p.get("name"): p.text for p in rule.iter(f"{SLD}CssParameter")}["stroke"]
        when = rule.find(f"{OGC}Filter")
        if when is None:
            assert rule.find(f"{SLD}ElseFilter") is not None
            drawn = drawn or [stroke]
        elif fits(when, row):
            drawn.append(stroke)
    assert drawn == [colour]


def test_the_legend_of_a_desktop_client_names_every_group_and_the_rest():
    """Each rule has a title, a symbol that exists and a colour of the marking code; the last takes what is left."""
    root = ElementTree.fromstring(qml(COLOURED, "Polygon Z"))
    renderer = root.find("renderer-v2")
    assert renderer.get("type") == "RuleRenderer"
    symbols = {s.get("name"): s for s in renderer.find("symbols")}
    rules = renderer.findall("rules/rule")
    assert len({r.get("key") for r in rules}) == len(rules) == len(KINDS) + 1
    for rule, kind in zip(rules, KINDS, strict=False):
        assert rule.get("label") == kind.title
        options = {o.get("name"): o.get("value") for o in symbols[rule.get("symbol")].iter("Option")}
        wanted = ",".join(str(int(kind.colour[i : i + 2], 16)) for i in (1, 3, 5))
        assert options["outline_color"].startswith(wanted + ",")
    assert rules[-1].get("filter") == "ELSE"
    assert rules[-1].get("label") == "Class not known"


@pytest.mark.parametrize(
    ("row", "title"),
    [
        (("GAS ", "found"), "Gas, oil, steam"),
        (("gas", "rejected"), "Rejected by a person"),
        ((None, "found"), None),
    ],
)
def test_the_expressions_of_a_desktop_client_part_the_kinds(row, title):
    """The expressions are plain SQL, so SQLite, on which a GeoPackage rests, can say which of them fit."""
    root = ElementTree.fromstring(qml(COLOURED, "Point"))
    database = sqlite3.connect(":memory:")
    database.execute('CREATE TABLE t ("class" TEXT, "status" TEXT)')
    database.execute("INSERT INTO t VALUES (?, ?)", row)
    rules = [r for r in root.findall("renderer-v2/rules/rule") if r.get("filter") != "ELSE"]
    said = [
        r.get("label") for r in rules if database.execute(f"SELECT {r.get('filter')} FROM t").fetchone()[0]
    ]
    assert said == ([title] if title else [])
