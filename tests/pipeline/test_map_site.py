"""The main job through its library call, on a survey whose ground is known."""

import hashlib
import json

import geopandas
import numpy as np
import pytest
import rasterio
import xarray
from small_survey import PIPE_DEPTH, PIPE_Y, traces_of, write_small_survey

import gridmap


def test_the_folder_holds_what_the_design_promises(mapped):
    """Every path of the contract that this version writes is there, and run.json lists it."""
    out = mapped[0].out
    for name in (
        "run.json", "volume.zarr", "slices", "slices.tif", "coverage.tif", "features.gpkg", "pictures",
        "scene.glb", "scene.vtm", "index.html", "positions.csv", "pictures/contact_sheet.png",
        "pictures/radargrams/L01.png", "features.dxf", "features.kml", "features.geojson", "stakeout.csv",
        "pictures/plan.png", "pictures/stakeout.png",
    ):  # fmt: skip
        assert (out / name).exists(), name
    listed = {entry["path"] for entry in json.loads((out / "run.json").read_text())["outputs"]}
    assert {"slices.tif", "volume.zarr", "index.html", "features.gpkg"} <= listed


def test_the_pipe_shows_in_plan_at_its_place_and_depth(mapped):
    """The strongest cell of the strongest slice lies on the pipe's line, in map co-ordinates, at its depth."""
    best = (0.0, None)
    for path in sorted((mapped[0].out / "slices").glob("depth_*.tif")):
        with rasterio.open(path) as data:
            if float(data.tags()["WINDOW_TOP_M"]) < 0.3:
                continue
            values = data.read(1, masked=True)
            profile = values.mean(axis=1)
            if profile.max() > best[0]:
                row = int(profile.argmax())
                best = (float(profile.max()), (data.xy(row, 0)[1], data.tags()))
    northing, tags = best[1]
    assert northing - 5400000.0 == pytest.approx(PIPE_Y, abs=0.06)
    assert float(tags["WINDOW_TOP_M"]) - 0.05 <= PIPE_DEPTH <= float(tags["WINDOW_BASE_M"]) + 0.05


def test_zigzag_lines_agree(mapped):
    """The pipe stands at the same y on lines walked up and down: within one cell in every column."""
    volume = xarray.open_zarr(mapped[0].out / "volume.zarr")
    name = next(iter(volume.data_vars.keys() - {"spatial_ref"}))
    level = round((PIPE_DEPTH - float(volume["z"][0])) / float(volume["z"][1] - volume["z"][0]))
    plane = np.nan_to_num(volume[name].values[level - 2 : level + 3].max(axis=0))
    rows = plane.argmax(axis=0)[2:-2]
    assert np.ptp(rows) <= 1


def test_run_record_says_what_was_used(mapped):
    """Velocity as stated, hash of every input as hashlib gives it, stage timings, caution."""
    result, site = mapped
    record = json.loads((result.out / "run.json").read_text())
    assert record["velocity_m_per_ns"] == pytest.approx(0.1)
    assert record["velocity_sd_m_per_ns"] == pytest.approx(0.004)
    hashes = {entry["path"]: entry["sha256"] for entry in record["inputs"]}
    assert hashes["site.toml"] == hashlib.sha256(site.read_bytes()).hexdigest()
    assert len(hashes) == 11
    assert "not proof" in record["caution"]
    assert all(stage["seconds"] >= 0 for stage in record["stages"])


def test_layers_open_in_geopandas(mapped):
    """Ten lines and three control points, in the site's CRS."""
    path = mapped[0].out / "features.gpkg"
    lines = geopandas.read_file(path, layer="lines_walked")
    control = geopandas.read_file(path, layer="control")
    assert (len(lines), len(control)) == (10, 3)
    assert lines.crs.to_epsg() == 32633
    assert lines.loc[0, "length_m"] == pytest.approx(3.0, abs=1e-3)


def test_the_same_input_gives_the_same_bytes(mapped, tmp_path):
    """A second run differs in no file but run.json, which holds the timings."""
    first = mapped[0].out
    second = gridmap.map(mapped[1], tmp_path / "again").out

    def digest(folder):
        return {
            p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
            for p in sorted(folder.rglob("*"))
            if p.is_file() and p.name != "run.json"
        }

    one, two = digest(first), digest(second)
    assert one.keys() == two.keys()
    assert [name for name in one if one[name] != two[name] and "scene.png" not in name] == []


def test_without_control_points_the_map_is_local_and_says_so(tmp_path):
    """No CRS, no control: rasters in grid metres, a warning, exit code 1 by the command."""
    site = write_small_survey(tmp_path / "a")
    body = site.read_text()
    start, end = body.index("[[control]]"), body.index("[antenna]")
    site.write_text(body[:start].replace('crs = "EPSG:32633"\n', "") + body[end:])
    result = gridmap.map(site, tmp_path / "out")
    assert any("no control points" in w for w in result.warnings)
    assert any("no features.geojson and no features.kml" in n for n in result.notes)
    assert not (result.out / "features.kml").exists()
    assert (result.out / "features.dxf").exists()
    assert (result.out / "stakeout.csv").read_text().startswith("point,x,y,depth,sigma,")
    with rasterio.open(result.out / "coverage.tif") as data:
        assert data.crs is None
        assert data.bounds.left == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("imaging", ["3d", "2d", "none"])
def test_every_way_of_imaging_finds_the_pipe(tmp_path, imaging):
    """The user's word decides, and the pipe is the first thing that is told."""
    site = write_small_survey(tmp_path / "a")
    site.write_text(site.read_text() + f'\n[processing]\nimaging = "{imaging}"\n')
    result = gridmap.map(site, tmp_path / "out")
    record = json.loads((result.out / "run.json").read_text())
    assert record["parameters"]["imaging"] == imaging
    assert "long, narrow echo" in result.summary[0]
    assert f"y {PIPE_Y:.1f} m" in result.summary[0]


def test_every_raster_passes_the_cog_check(mapped):
    """GDAL's own layout rules for cloud-optimised GeoTIFF, through rio-cogeo (reference library)."""
    from rio_cogeo.cogeo import cog_validate

    rasters = [
        *(mapped[0].out / "slices").glob("*.tif"),
        mapped[0].out / "slices.tif",
        mapped[0].out / "coverage.tif",
    ]
    assert len(rasters) > 20
    for path in rasters:
        valid, errors, warnings = cog_validate(path, quiet=True)
        assert valid, (path.name, errors)
        assert not warnings, (path.name, warnings)


def test_the_scene_opens_in_two_libraries(mapped):
    """scene.glb by trimesh and by VTK's own glTF reader, scene.vtm by pyvista; the scene is as wide as the site."""
    import pyvista
    import trimesh

    scene = trimesh.load(mapped[0].out / "scene.glb")
    width, height, length = scene.extents
    assert width == pytest.approx(2.25, abs=0.3)
    assert length == pytest.approx(3.0, abs=0.3)
    assert 0.5 < height < 2.0
    mesh = pyvista.read(mapped[0].out / "scene.glb")
    assert mesh.bounds[1] - mesh.bounds[0] == pytest.approx(width, abs=1e-3)
    blocks = pyvista.read(mapped[0].out / "scene.vtm")
    assert {"slices", "iso-surfaces", "ground"} <= set(blocks.keys())


def test_lines_as_delimited_text_give_the_same_map(mapped, tmp_path):
    """The same traces as semicolon-separated text with a decimal comma, laid out as [text] says."""
    folder = tmp_path / "text"
    (folder / "lines").mkdir(parents=True)
    for i in range(10):
        rows = (";".join(f"{v:.7e}".replace(".", ",") for v in trace) for trace in traces_of(i))
        (folder / "lines" / f"L{i + 1:02d}.csv").write_text("\n".join(rows))
    text = mapped[1].read_text().replace("*.sgy", "*.csv")
    extra = "\n[record]\nsample_interval_ns = 0.2\n"
    extra += '\n[text]\ndelimiter = "semicolon"\ndecimal = ","\ntraces_in = "rows"\n'
    (folder / "site.toml").write_text(text + extra)
    result = gridmap.map(folder / "site.toml", tmp_path / "out")
    with rasterio.open(result.out / "slices.tif") as a, rasterio.open(mapped[0].out / "slices.tif") as b:
        assert np.allclose(a.read(), b.read(), rtol=1e-3, atol=1e-6, equal_nan=True)
