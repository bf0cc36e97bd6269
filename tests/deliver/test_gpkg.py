"""The GeoPackage is reopened with geopandas (GDAL) and with SQLite alone, against GeoPackage 1.2.

Source: OGC 12-128r15; the numbers of its requirements are from memory.
"""

import sqlite3
import time
from contextlib import closing
from xml.etree import ElementTree

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from pyproj import CRS

from gridmap.deliver import gpkg
from gridmap.deliver.caution import CAUTION
from gridmap.deliver.layers import Layer, control_layer, lines_walked_layer
from gridmap.deliver.styles import Style
from gridmap.errors import OurFaultError, OutputError
from gridmap.model import Line, PlacedLine, Similarity
from gridmap.site.records import ControlPoint

WKT = CRS.from_epsg(25832).to_wkt()
SHIFT = Similarity(500000.0, 5300000.0, 1.0, 0.0)


def layers_of():
    xy = np.linspace((0.0, 0.0), (0.0, 10.0), 101)
    lines = [
        PlacedLine(
            Line(name, np.zeros((101, 8), np.float32), 0.2, trace_number=number),
            xy + np.array([k, 0.0]),
            xy[:, 1],
        )
        for k, (name, number) in enumerate([("L01", None), ("L02", np.arange(101))])
    ]
    control = [
        ControlPoint("P1", 0.0, 0.0, 500000.0, 5300000.0),
        ControlPoint("P2", 9.0, 0.0, 500009.0, 5300000.0),
    ]
    return [lines_walked_layer(lines, [], SHIFT), control_layer(control, np.full((2, 2), 0.01))]


def ask(path, question):
    with closing(sqlite3.connect(path)) as database:
        return database.execute(question).fetchall()


def test_geopandas_reads_the_layers_back(tmp_path):
    """Geometry, CRS, order, null and field types survive."""
    gpkg.write_features(tmp_path / "features.gpkg", layers_of(), WKT)
    lines = gpd.read_file(tmp_path / "features.gpkg", layer="lines_walked")
    assert lines.crs.to_epsg() == 25832
    assert list(lines["name"]) == ["L01", "L02"]
    assert lines["dropped_traces"].isna().tolist() == [True, False]
    assert lines.geometry[1].wkt == "LINESTRING (500001 5300000, 500001 5300010)"
    assert lines["length_m"].tolist() == [10.0, 10.0]
    control = gpd.read_file(tmp_path / "features.gpkg", layer="control")
    assert control["residual_cm"].tolist() == [1.41, 1.41]
    assert control.geometry[1].coords[0] == (500009.0, 5300000.0)


def test_the_file_is_a_geopackage_that_older_clients_know(tmp_path):
    """application_id is "GPKG" and user_version 10200 (requirement 2); gpkg_contents knows every table."""
    path = tmp_path / "features.gpkg"
    gpkg.write_features(path, layers_of(), WKT)
    raw = path.read_bytes()
    assert raw[:16] == b"SQLite format 3\x00"
    assert raw[68:72] == b"GPKG"  # the SQLite header keeps application_id at byte 68
    assert ask(path, "PRAGMA user_version") == [(10200,)]
    assert ask(path, "PRAGMA integrity_check") == [("ok",)]
    assert ask(path, "PRAGMA foreign_key_check") == []
    assert ask(path, "SELECT table_name, data_type, srs_id FROM gpkg_contents") == [
        ("lines_walked", "features", 25832),
        ("control", "features", 25832),
        ("layer_styles", "attributes", 0),
    ]
    assert ask(path, "SELECT table_name, geometry_type_name, z FROM gpkg_geometry_columns") == [
        ("lines_walked", "LINESTRING", 0),
        ("control", "POINT", 0),
    ]
    for (moment,) in ask(path, "SELECT last_change FROM gpkg_contents"):
        assert time.strptime(moment, "%Y-%m-%dT%H:%M:%S.000Z")  # requirement 15: ISO 8601, UTC, Z
    extensions = {name for (name,) in ask(path, "SELECT extension_name FROM gpkg_extensions")}
    assert extensions == {"gpkg_rtree_index"}


def test_every_layer_says_what_it_is_and_warns(tmp_path):
    """The description of each layer ends with the caution, where a GIS shows it."""
    path = tmp_path / "features.gpkg"
    gpkg.write_features(path, layers_of(), WKT)
    for layer in layers_of():
        info = pyogrio.read_info(path, layer=layer.name)
        assert info["layer_metadata"]["DESCRIPTION"] == f"{layer.description} {CAUTION}"


def test_every_layer_has_a_default_style(tmp_path):
    """layer_styles names each layer and its geometry column, with well-formed QML and SLD."""
    path = tmp_path / "features.gpkg"
    gpkg.write_features(path, layers_of(), WKT)
    rows = ask(
        path, "SELECT f_table_name, f_geometry_column, useAsDefault, styleQML, styleSLD FROM layer_styles"
    )
    assert [row[:3] for row in rows] == [("lines_walked", "geom", 1), ("control", "geom", 1)]
    columns = ask(path, "SELECT table_name, column_name FROM gpkg_geometry_columns")
    assert sorted(columns) == sorted(row[:2] for row in rows)
    for (*_, qml, sld), symbol, kind in zip(rows, ("line", "marker"), ("Line", "Point"), strict=True):
        assert ElementTree.fromstring(qml).find("renderer-v2/symbols/symbol").get("type") == symbol
        assert (
            ElementTree.fromstring(sld).find(f".//{{http://www.opengis.net/sld}}{kind}Symbolizer") is not None
        )


def test_a_local_grid_is_an_undefined_cartesian_system(tmp_path):
    """Without a CRS the geometries have srs_id -1, which GeoPackage reserves for that (requirement 11)."""
    path = tmp_path / "features.gpkg"
    gpkg.write_features(path, layers_of(), None)
    assert ask(path, "SELECT DISTINCT srs_id FROM gpkg_geometry_columns") == [(-1,)]
    crs = gpd.read_file(path, layer="control").crs
    assert crs is None or (crs.is_engineering and crs.to_epsg() is None)


def test_an_empty_layer_and_heights_are_kept(tmp_path):
    """A layer without features is still there, with its fields; a Z geometry keeps its Z."""
    empty = gpd.GeoDataFrame({"id": np.zeros(0, int)}, geometry=gpd.GeoSeries([]))
    deep = gpd.GeoDataFrame({"id": [1]}, geometry=[shapely.LineString([(0, 0, -0.5), (1, 0, -0.7)])])
    style = Style("#000000", 1.0)
    layers = [
        Layer("points", empty, "Point Z", "None found.", style),
        Layer("linear", deep, "LineString Z", "One.", style),
    ]
    gpkg.write_features(tmp_path / "f.gpkg", layers, WKT)
    assert len(gpd.read_file(tmp_path / "f.gpkg", layer="points")) == 0
    back = gpd.read_file(tmp_path / "f.gpkg", layer="linear")
    assert list(back.geometry[0].coords) == [(0, 0, -0.5), (1, 0, -0.7)]
    assert ask(tmp_path / "f.gpkg", "SELECT table_name, z FROM gpkg_geometry_columns ORDER BY 1") == [
        ("linear", 1),
        ("points", 1),
    ]


def test_the_same_input_gives_the_same_bytes(tmp_path):
    """Two runs a second apart give the same file, and GDAL's clock runs again afterwards."""
    gpkg.write_features(tmp_path / "a.gpkg", layers_of(), WKT)
    time.sleep(1.1)
    gpkg.write_features(tmp_path / "b.gpkg", layers_of(), WKT)
    assert (tmp_path / "a.gpkg").read_bytes() == (tmp_path / "b.gpkg").read_bytes()
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") is None


def test_failure_midway_leaves_the_earlier_file(tmp_path, monkeypatch):
    """When the styles cannot be written, the old file still stands and nothing lies beside it."""
    path = tmp_path / "features.gpkg"
    gpkg.write_features(path, layers_of(), WKT)
    before = path.read_bytes()

    def breaks(*_):
        raise sqlite3.OperationalError("disk is full")

    monkeypatch.setattr(gpkg, "_write_styles", breaks)
    with pytest.raises(OutputError, match=r"^features\.gpkg: cannot be written \(disk is full\)"):
        gpkg.write_features(path, layers_of()[:1], WKT)
    assert path.read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["features.gpkg"]


@pytest.mark.parametrize("limit_bytes", [4_000, 60_000, 98_000, 106_000, 110_000, 118_000, 122_000])
def test_a_file_that_does_not_fit_leaves_nothing(tmp_path, limit_bytes):
    """Wherever the system stops the file: an error and no file at all, journals included."""
    resource = pytest.importorskip("resource")
    gpkg.write_features(tmp_path / "features.gpkg", layers_of(), WKT)
    assert (tmp_path / "features.gpkg").stat().st_size > limit_bytes
    (tmp_path / "features.gpkg").unlink()
    limit = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, limit[1]))
    try:
        with pytest.raises(OutputError, match=r"^features\.gpkg: cannot be written [^\n]*free space$"):
            gpkg.write_features(tmp_path / "features.gpkg", layers_of(), WKT)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limit)
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_said_on_one_line(tmp_path):
    """The message names the file and what to do."""
    with pytest.raises(OutputError, match=r"^features\.gpkg: cannot be written [^\n]*free space$"):
        gpkg.write_features(tmp_path / "gone" / "features.gpkg", layers_of(), WKT)


def test_layers_need_different_names(tmp_path):
    """The same layer twice would overwrite itself: refused."""
    with pytest.raises(OurFaultError, match="different names"):
        gpkg.write_features(tmp_path / "f.gpkg", layers_of()[:1] * 2, WKT)
