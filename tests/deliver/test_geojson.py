"""GeoJSON against RFC 7946, reopened with GDAL through pyogrio."""

import json
import warnings

import geopandas as gpd
import pytest
import shapely
from pyproj import CRS

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.geojson import write_geojson
from gridmap.deliver.layers import Layer
from gridmap.deliver.styles import Style
from gridmap.errors import OurFaultError

# EPSG Guidance Note 7-2, p. 79, Lambert azimuthal equal area: 50 N 5 E is 3962799.45, 2999718.85 in it.
LAEA = CRS.from_epsg(3035).to_wkt()
EAST, NORTH = 3962799.45, 2999718.85
STYLE = Style("#123456", 1.0)


def test_the_worked_example_lands_on_its_longitude_and_latitude(tmp_path):
    """Longitude comes first (RFC 7946, 4), to seven decimals at most; missing numbers are null."""
    frame = gpd.GeoDataFrame(
        {"name": ["a"], "width_m": [float("nan")]}, geometry=[shapely.Point(EAST, NORTH, -0.5)]
    )
    write_geojson(tmp_path / "f.geojson", [Layer("points", frame, "Point Z", "A.", STYLE)], LAEA)
    text = (tmp_path / "f.geojson").read_text(encoding="utf-8")
    found = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    (feature,) = found["features"]
    assert feature["properties"] == {"layer": "points", "name": "a", "width_m": None}
    assert feature["geometry"]["type"] == "Point"
    assert feature["geometry"]["coordinates"] == pytest.approx([5.0, 50.0, -0.5], abs=2e-7)
    assert all(len(str(number).partition(".")[2]) <= 7 for number in feature["geometry"]["coordinates"])
    assert found["caution"] == CAUTION
    assert "crs" not in found  # RFC 7946, 4: the member of the older draft is gone


def test_rings_run_anticlockwise(tmp_path):
    """RFC 7946, 3.1.6: a clockwise ring is turned, holes the other way; also inside multipolygons."""
    square = [(0, 0), (0, 9), (9, 9), (9, 0)]
    hole = [(2, 2), (4, 2), (4, 4), (2, 4)]
    polygon = shapely.Polygon(square, [hole])
    assert not polygon.exterior.is_ccw
    place = shapely.affinity.translate(polygon, EAST, NORTH)
    shapes = [place, shapely.MultiPolygon([place, shapely.affinity.translate(place, 20, 0)])]
    frame = gpd.GeoDataFrame({"id": [1, 2]}, geometry=shapes)
    write_geojson(tmp_path / "f.geojson", [Layer("outlines", frame, "Polygon", "A.", STYLE)], LAEA)
    back = gpd.read_file(tmp_path / "f.geojson")
    assert back.crs.to_epsg() == 4326
    raw = json.loads((tmp_path / "f.geojson").read_text())["features"]
    polygons = [raw[0]["geometry"]["coordinates"], *raw[1]["geometry"]["coordinates"]]
    for outer, inner in polygons:
        assert shapely.LinearRing(outer).is_ccw
        assert not shapely.LinearRing(inner).is_ccw
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        area = back.to_crs(3035).geometry.area
    assert area.tolist() == pytest.approx([77.0, 154.0], rel=5e-3)


def test_two_layers_share_a_file_with_different_fields(tmp_path):
    """Each feature keeps its own fields and the name of its layer; an empty file is still a collection."""
    one = Layer(
        "a", gpd.GeoDataFrame({"k": [1]}, geometry=[shapely.Point(EAST, NORTH)]), "Point", "A.", STYLE
    )
    two = Layer(
        "b", gpd.GeoDataFrame({"m": ["ü"]}, geometry=[shapely.Point(EAST, NORTH)]), "Point", "B.", STYLE
    )
    write_geojson(tmp_path / "f.geojson", [one, two], LAEA)
    found = json.loads((tmp_path / "f.geojson").read_text(encoding="utf-8"))["features"]
    assert [feature["properties"] for feature in found] == [{"layer": "a", "k": 1}, {"layer": "b", "m": "ü"}]
    write_geojson(tmp_path / "none.geojson", [], LAEA)
    assert json.loads((tmp_path / "none.geojson").read_text())["features"] == []


def test_a_local_grid_has_no_geojson(tmp_path):
    """Without a CRS there is no longitude: refused, nothing written."""
    with pytest.raises(OurFaultError, match="needs a CRS"):
        write_geojson(tmp_path / "f.geojson", [], None)
    assert list(tmp_path.iterdir()) == []
