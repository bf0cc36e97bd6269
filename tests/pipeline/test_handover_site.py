"""The hand-over opens in other libraries, explains itself, and is whole."""

import hashlib
import json
import shutil
import warnings
import zipfile
from xml.etree import ElementTree

import ezdxf
import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
from PIL import ImageColor
from pyproj import Transformer

import gridmap
from gridmap.deliver.colours import table
from gridmap.errors import InputError

GMD = "{http://www.isotc211.org/2005/gmd}"
GCO = "{http://www.isotc211.org/2005/gco}"


@pytest.fixture
def out(mapped, tmp_path):
    """A copy of the small map that a test may spoil."""
    copy = tmp_path / "map"
    shutil.copytree(mapped[0].out, copy, ignore=shutil.ignore_patterns("pictures", "volume.zarr", "scene"))
    return copy


def test_layers_and_rasters_reopen_in_their_place(out, tmp_path):
    """Every file is read back by a general library, in the CRS of the map, the same values in the same cells."""
    gridmap.handover(out, tmp_path / "gis")
    gis = tmp_path / "gis"
    linear = gpd.read_file(gis / "01_features.gpkg", layer="linear")
    assert linear.crs.to_epsg() == 32633
    for name, ours, unit in (
        ("02_depth_slices", "slices", ""),
        ("03_reach_m", "reach", "m"),
        ("04_coverage_m", "coverage", "m"),
    ):
        with rasterio.open(gis / f"{name}.tif") as there, rasterio.open(out / f"{ours}.tif") as here:
            assert there.crs.to_epsg() == 32633
            assert there.transform == here.transform
            np.testing.assert_array_equal(there.read(), here.read())
            assert all(there.descriptions)
        assert name.endswith(f"_{unit}") or not unit
    drawing = ezdxf.readfile(gis / "cad" / "features.dxf")
    assert drawing.header["$INSUNITS"] == 6  # metres
    assert gpd.read_file(gis / "web" / "features.geojson").crs.to_epsg() in (4326, 4979)  # with heights
    assert len(list((gis / "slices").glob("*.tif"))) == len(list((gis / "slices").glob("*.qml"))) > 5


def test_styles_say_the_colours_of_the_table(out, tmp_path):
    """QML and SLD of a raster give the table's colours from end to end, the values increasing, whatever reads them."""
    gridmap.handover(out, tmp_path / "gis")
    for stem in ("02_depth_slices", "03_reach_m", "04_coverage_m"):
        items = ElementTree.parse(tmp_path / "gis" / f"{stem}.qml").findall(".//item")
        sld = ElementTree.parse(tmp_path / "gis" / "styles" / f"{stem}.sld")
        entries = sld.findall(".//{http://www.opengis.net/sld}ColorMapEntry")
        assert [i.get("color") for i in items] == [e.get("color") for e in entries]
        values = [float(i.get("value")) for i in items]
        assert values == sorted(values)
        assert (
            len(set(values)) == len(values) >= 2
        )  # shared/trade.md 3.2, SE 1.1: ranged maps need two entries
        name = "cividis" if "slices" in stem else "viridis"
        assert ImageColor.getrgb(items[0].get("color")) == tuple(table(name)[0])
        assert ImageColor.getrgb(items[-1].get("color")) == tuple(table(name)[255])
    assert (tmp_path / "gis" / "styles" / "linear.sld").exists()


def test_metadata_of_each_layer_says_extent_system_and_caution(out, tmp_path):
    """ISO 19115 core: title, abstract, extent on the globe, reference system, lineage, limits, for every layer."""
    gridmap.handover(out, tmp_path / "gis", date="2026-05-17")
    layers = [str(n) for n, kind in pyogrio.list_layers(out / "features.gpkg") if kind is not None]
    turn = Transformer.from_crs(32633, 4326, always_xy=True)
    for name in [*layers, "02_depth_slices", "03_reach_m", "04_coverage_m"]:
        root = ElementTree.parse(tmp_path / "gis" / "metadata" / f"{name}.xml").getroot()
        assert root.tag == f"{GMD}MD_Metadata"
        for path in (
            "fileIdentifier",
            "identificationInfo",
            "dataQualityInfo",
            "distributionInfo",
            "contact",
        ):
            assert root.find(f"{GMD}{path}") is not None, path
        assert root.find(f".//{GMD}code/{GCO}CharacterString").text == "EPSG:32633"
        assert root.find(f"{GMD}dateStamp/{GCO}Date").text == "2026-05-17"
        assert (
            "not proof that nothing is buried"
            in root.find(f".//{GMD}useLimitation/{GCO}CharacterString").text
        )
        west = float(root.find(f".//{GMD}westBoundLongitude/{GCO}Decimal").text)
        south = float(root.find(f".//{GMD}southBoundLatitude/{GCO}Decimal").text)
        assert (west, south) == pytest.approx(turn.transform(500001.0, 5400001.0), abs=3e-5)
    core = ElementTree.parse(tmp_path / "gis" / "metadata" / "dublin_core.xml").getroot()
    assert core.find("{http://purl.org/dc/elements/1.1/}title").text.startswith("Bleaching green")


def test_readme_explains_every_layer_and_every_column(out, tmp_path):
    """No column of any layer is left without its meaning, and every file stands in the README."""
    gridmap.handover(out, tmp_path / "gis")
    text = (tmp_path / "gis" / "README.txt").read_text(encoding="utf-8")
    assert "BEFORE ANYBODY DIGS" in text
    for name, kind in pyogrio.list_layers(out / "features.gpkg"):
        if kind is None:
            continue
        assert f"  {name}: " in text
        for column in pyogrio.read_info(out / "features.gpkg", layer=name)["fields"]:
            assert f"  {column}: " in text, f"{name}.{column}"
    assert "added" not in text
    for path in (tmp_path / "gis").iterdir():
        if path.suffix in (".tif", ".gpkg", ".pdf") or path.is_dir():
            assert path.name in text, path.name


def test_fingerprints_and_zip_hold_every_file_and_do_not_change(out, tmp_path):
    """SHA256SUMS is right, and two runs give the same ZIP byte for byte."""
    (_, packed), _ = gridmap.handover(out, tmp_path / "gis", packed=True)
    sums = dict(line.split("  ")[::-1] for line in (tmp_path / "gis" / "SHA256SUMS").read_text().splitlines())
    with zipfile.ZipFile(packed) as box:
        names = {n.removeprefix("gis/") for n in box.namelist()}
        assert names == {*sums, "SHA256SUMS"}
        for name, fingerprint in sums.items():
            assert hashlib.sha256(box.read(f"gis/{name}")).hexdigest() == fingerprint
    first = packed.read_bytes()
    shutil.rmtree(tmp_path / "gis")
    gridmap.handover(out, tmp_path / "gis", packed=True)
    assert packed.read_bytes() == first


def test_points_beside_a_moved_feature_are_not_handed_over(out, tmp_path):
    """A feature moved after the run has no points to set out, since the old ones would lie beside it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        frame = pyogrio.read_dataframe(out / "features.gpkg", layer="linear")
        frame["geometry"] = frame.translate(0.3, 0.4)
        pyogrio.write_dataframe(frame, out / "features.gpkg", layer="linear")
    _, notes = gridmap.handover(out, tmp_path / "gis")
    assert not (tmp_path / "gis" / "setting_out").exists()
    assert any("--replace" in note for note in notes)
    moved = gpd.read_file(tmp_path / "gis" / "01_features.gpkg", layer="linear")
    on_web = gpd.read_file(tmp_path / "gis" / "web" / "features.geojson").to_crs(32633)
    on_web = on_web[on_web["layer"] == "linear"].reset_index()
    assert on_web.geometry[0].hausdorff_distance(moved.geometry[0]) < 0.03


def test_a_local_grid_says_that_it_is_tied_to_nothing(out, tmp_path):
    """Without a CRS the files for web and phone are left out with a note, and no place on the globe is claimed."""
    record = json.loads((out / "run.json").read_text(encoding="utf-8"))
    record["parameters"]["site"]["crs"] = None
    (out / "run.json").write_text(json.dumps(record), encoding="utf-8")
    for name in ("slices.tif", "reach.tif", "coverage.tif"):
        with rasterio.open(out / name) as file:
            values, about, tags = file.read(), file.profile, [file.tags(b) for b in file.indexes]
        about.update(crs=None)
        with rasterio.open(out / name, "w", **about) as file:
            file.write(values)
            for band, words in enumerate(tags, 1):
                file.update_tags(band, **words)
    _, notes = gridmap.handover(out, tmp_path / "gis")
    assert any("CRS" in note for note in notes)
    assert not (tmp_path / "gis" / "web").exists()
    assert "westBound" not in (tmp_path / "gis" / "metadata" / "linear.xml").read_text(encoding="utf-8")


@pytest.mark.parametrize("where", ["full", "map/inside"])
def test_a_folder_that_must_not_be_used_is_refused(out, tmp_path, where):
    """What stands there is never replaced, and nothing is put where the next run would wipe it."""
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").write_text("mine")
    with pytest.raises(InputError):
        gridmap.handover(out, tmp_path / where)
    assert (tmp_path / "full" / "x").read_text() == "mine"
