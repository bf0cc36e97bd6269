"""Drawings, phone files, tables and plans of the features, reopened by libraries that did not write them."""

import csv
from dataclasses import replace
from xml.etree import ElementTree as Xml

import ezdxf
import geopandas
import numpy as np
import pytest
import shapely
from PIL import Image

from gridmap.deliver.feature_layers import feature_layers
from gridmap.deliver.hand_over import hand_over_features
from gridmap.deliver.layers import control_layer
from gridmap.features.ground import Ground
from gridmap.features.interpret import interpret
from gridmap.model import (
    Features,
    LinearFeature,
    OutlineFeature,
    PointFeature,
    RasterGrid,
    RejectedCandidate,
    Said,
    Similarity,
)
from gridmap.site.records import ControlPoint

TURNED = Similarity(500_000.0, 5_400_000.0, 0.0, 1.0)  # local x points north
WKT = __import__("pyproj").CRS.from_epsg(32633).to_wkt()


def line(y, depth):
    xyz = np.column_stack([np.linspace(0, 6, 31), np.full(31, y), np.full(31, depth)])
    return LinearFeature(xyz, 0.03, None, 8.0, 0.9, 9, "unclear", "n")


@pytest.fixture(scope="module", params=[WKT, None], ids=["mapped", "local"])
def handed(request, tmp_path_factory):
    """Three lines (a water main, one unknown, one rejected), a tank and a point, handed over twice: (folder, CRS)."""
    crs = request.param
    tank = OutlineFeature(
        np.array([[2.0, 4], [4, 4], [4, 5], [2, 5]]), 0.7, 0.04, 0.3, 2.0, 1.0, 0.0, 10.0, 0.8
    )
    found = Features(
        linear=(line(1.0, 0.5), line(2.0, 0.9), line(3.0, 1.2)),
        outlines=(tank,),
        points=(PointFeature(np.array([1.0, 5.0, 0.4]), 0.05, 6.0, 0.7),),
        rejected=(RejectedCandidate("linear", np.array([[0, 0, 1], [1, 0, 1.0]]), "stripe"),),
    )
    what = interpret(found, (), TURNED, Ground(None, [], 0.1, None, 400.0, 0.2))
    first, second, third = what.linear
    first = replace(first, said=Said("accepted", "valve <3> & hatch", class_name="water"))
    what = replace(what, linear=(first, second, replace(third, said=Said("rejected"))))
    layers = [
        *feature_layers(what, TURNED, [], tied=True),
        control_layer([ControlPoint("A", 0.0, 0.0, 500_000.0, 5_400_000.0)], None),
    ]
    raster = RasterGrid(499_993.0, 5_400_007.0, 0.1, 80, 80, crs)
    walked = [TURNED.to_map(np.array([[0.0, y], [6.0, y]])) for y in np.arange(0, 6, 0.5)]
    folders = []
    for name in ("one", "two"):
        folders.append(tmp_path_factory.mktemp(name))
        notes = hand_over_features(
            folders[-1], what, layers, TURNED, raster, walked, "Yard, \u00d6tz", "EPSG:32633" if crs else "", tied=True
        )  # fmt: skip
        assert bool(notes) == (crs is None)
    return folders, crs


def test_the_same_input_gives_the_same_bytes(handed):
    """No date, no random identity in any of the files."""
    one, two = handed[0]
    for path in one.rglob("*.*"):
        assert path.read_bytes() == (two / path.relative_to(one)).read_bytes(), path.name


def test_the_drawing_passes_the_audit_and_is_in_metres(handed):
    """DXF header $INSUNITS 6 is metres; ezdxf's audit finds nothing to mend."""
    doc = ezdxf.readfile(handed[0][0] / "features.dxf")
    audit = doc.audit()
    assert not audit.errors
    assert not audit.fixes
    assert doc.header["$INSUNITS"] == 6
    names = {layer.dxf.name for layer in doc.layers}
    assert {"linear", "outlines", "points", "lines_walked", "control", "caution"} <= names


def test_the_drawing_holds_depths_labels_and_the_caution(handed):
    """Z is minus the depth; the label carries depth and sigma; the rejected line is left out; water is blue."""
    space = ezdxf.readfile(handed[0][0] / "features.dxf").modelspace()
    lines = space.query('POLYLINE[layer=="linear"]')
    assert sorted({round(v.dxf.location.z, 3) for ln in lines for v in ln.vertices}) == [-0.9, -0.5]
    assert all(ln.is_3d_polyline for ln in lines)
    tank = space.query('POLYLINE[layer=="outlines"]')[0]
    assert tank.is_closed
    assert {round(v.dxf.location.z, 3) for v in tank.vertices} == {-0.7}
    texts = [t.dxf.text for t in space.query("TEXT")]
    assert "L1 0.50%%p0.03 m" in texts
    assert "not proof that nothing is buried" in " ".join(texts)
    red, green, blue = next(ln.rgb for ln in lines if ln.rgb is not None)
    assert blue > max(red, green)
    assert sum(ln.rgb is not None for ln in lines) == 1


def test_the_phone_file_opens_in_gdal_at_its_place(handed):
    """KML 2.2 in WGS 84, clamped to the ground, depth and caution in words; PROJ takes it back within 2 cm."""
    path, crs = handed[0][0] / "features.kml", handed[1]
    if crs is None:
        assert not path.exists()
        assert not (path.parent / "features.geojson").exists()
        return
    root = Xml.parse(path).getroot()
    assert root.tag == "{http://www.opengis.net/kml/2.2}kml"
    space = {"k": "http://www.opengis.net/kml/2.2"}
    marks = root.findall(".//k:Placemark", space)
    assert len(marks) == 4
    for mark in marks:
        order = [child.tag.split("}")[1] for child in mark]
        assert order[:3] == ["name", "description", "styleUrl"]  # the order of the schema's sequence
        assert mark.find(".//k:altitudeMode", space).text == "clampToGround"
        assert "below the ground" in mark.find("k:description", space).text
        assert "not proof" in mark.find("k:description", space).text
        style = mark.find("k:styleUrl", space).text.lstrip("#")
        assert any(s.get("id") == style for s in root.findall(".//k:Style", space))
    lines = geopandas.read_file(path, layer="Lines").to_crs(32633)
    assert lines.geometry.is_valid.all()
    wanted = shapely.LineString(TURNED.to_map(np.array([[0.0, 1.0], [6.0, 1.0]])))
    assert shapely.force_2d(lines.geometry[0]).hausdorff_distance(wanted) < 0.02
    lines.columns = lines.columns.str.lower()
    assert "valve <3> & hatch" in lines.iloc[0]["description"]


def test_the_table_of_stakes(handed):
    """Ends and 5 m of both lines, corners of the tank, the point: 3 + 3 + 4 + 1; metres to three decimals."""
    with (handed[0][0] / "stakeout.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == 11
    assert rows[1] == {
        "point": "L1-2", "easting": "499999.000", "northing": "5400005.000", "depth": "0.500", "sigma": "0.030",
        "feature": "L1", "class": "water", "place": "between", "caution": rows[0]["caution"],
    }  # fmt: skip
    assert "not proof" in rows[0]["caution"]


def test_the_plans_show_the_water_main_in_blue(handed):
    """A pixel on the water main is bluish, one beside it is not; the caution is in the file."""
    for name in ("plan", "stakeout"):
        with Image.open(handed[0][0] / "pictures" / f"{name}.png") as image:
            assert "not proof" in image.info["Description"]
            pixels = np.asarray(image.convert("RGB")).astype(int)
        blue = (pixels[..., 2] - pixels[..., 0] > 90) & (pixels[..., 2] > 150)
        assert blue.sum() > 300
