"""The main job on uneven ground: the small survey laid on a slope, by straight rays computed here."""

import json
import struct

import geopandas
import numpy as np
import pytest
import pyvista
import rasterio
import xarray
from small_survey import PIPE_DEPTH, PIPE_Y, SITE, pulse, write_small_survey

import gridmap
from gridmap.read.segy_write import write_segy

BASE = 120.0


def write_points(folder, height):
    """Points of the ground on a half-metre grid around the survey, local frame."""
    rows = ["x,y,z"]
    for x in np.arange(-1, 3.6, 0.5):
        rows += [f"{x:.2f},{y:.2f},{height(x, y):.4f}" for y in np.arange(-1, 4.1, 0.25)]
    (folder / "ground.csv").write_text("\n".join(rows) + "\n")


def write_sloping(folder, height, extra=""):
    """Small survey whose pipe lies PIPE_DEPTH straight below its own ground."""
    site = SITE + f'\n[terrain]\npoints = "ground.csv"\n{extra}\n'
    path = write_small_survey(folder, site=site)
    write_points(folder, height)
    rng = np.random.default_rng(5)
    time = 0.2 * np.arange(150) - 3.0
    for i in range(10):
        y = np.linspace(0, 3.0, 61)[:: -1 if i % 2 else 1]
        x = 0.25 * i
        up = height(x, y) - (height(x, PIPE_Y) - PIPE_DEPTH)
        echo = 2 * np.hypot(y - PIPE_Y, up) / 0.1
        traces = pulse(time)[None] + 0.05 * pulse(time - echo[:, None])
        traces = (traces + 0.0005 * rng.normal(size=traces.shape)).astype(np.float32)
        write_segy(folder / "lines" / f"L{i + 1:02d}.sgy", traces, sample_interval_ps=200, sample_format=5)
    return path


def slope(x, y):
    return BASE + np.tan(np.radians(15.0)) * y


@pytest.fixture(scope="module")
def sloping(tmp_path_factory):
    folder = tmp_path_factory.mktemp("slope")
    return gridmap.map(write_sloping(folder, slope), folder / "out")


@pytest.fixture(scope="module")
def level(tmp_path_factory):
    folder = tmp_path_factory.mktemp("level")
    return gridmap.map(write_sloping(folder, slope, 'slices = "level"'), folder / "out")


def strongest(out):
    """(z, y) of the strongest line of the depth volume below 0.3 m, and the volume."""
    with xarray.open_zarr(out / "volume.zarr", chunks=None) as data:
        mean = data["amplitude"].sel(z=slice(0.3, None)).mean("x", skipna=True)
        at = mean.argmax(("z", "y"))
        return float(mean.z[at["z"]]), float(mean.y[at["y"]])


def test_level_ground_gives_the_slices_that_no_ground_gives(mapped, tmp_path):
    """Heights that are the same everywhere change no byte of any slice."""
    site = write_small_survey(tmp_path / "s", site=SITE + '\n[terrain]\npoints = "ground.csv"\n')
    write_points(tmp_path / "s", lambda x, y: 123.4)
    out = gridmap.map(site, tmp_path / "out").out
    names = sorted(p.name for p in (mapped[0].out / "slices").iterdir())
    assert names == sorted(p.name for p in (out / "slices").iterdir())
    for name in names:
        assert (out / "slices" / name).read_bytes() == (mapped[0].out / "slices" / name).read_bytes(), name


def test_pipe_below_a_slope_lies_at_its_place_and_depth(sloping):
    """A quarter wavelength is 6 cm; taken as flat, the pipe would lie 0.6 sin(15) cos(15) = 15 cm aside."""
    depth, y = strongest(sloping.out)
    assert y == pytest.approx(PIPE_Y, abs=0.0625)
    assert depth == pytest.approx(PIPE_DEPTH, abs=0.0625)
    assert any("true heights" in note for note in sloping.notes)
    assert not any("flat" in warning for warning in sloping.warnings)
    assert json.loads((sloping.out / "run.json").read_text())["parameters"]["terrain"][
        "relief_m"
    ] == pytest.approx(3.0 * np.tan(np.radians(15.0)), abs=0.2)


def test_level_slices_show_the_pipe_at_its_elevation(level):
    """The slice of the pipe's elevation is the strongest at the pipe; tags give elevations, and no depth."""
    elevation = slope(0, PIPE_Y) - PIPE_DEPTH
    best = (0.0, None)
    for path in sorted((level.out / "slices").glob("level_*.tif")):
        with rasterio.open(path) as data:
            tags = data.tags()
            assert "WINDOW_TOP_M" not in tags
            column = data.read(1)[:, 20:25]
            row = data.index(0, 5400000.0 + PIPE_Y)[0]
            here = np.nanmean(column[row]) if np.isfinite(column[row]).any() else 0.0
            # The direct wave's remains lie just below the ground.
            if float(tags["ELEVATION_TOP_M"]) < slope(0, PIPE_Y) - 0.3 and here > best[0]:
                best = (here, (float(tags["ELEVATION_TOP_M"]), float(tags["ELEVATION_BASE_M"])))
    assert best[1][1] - 0.0625 <= elevation <= best[1][0] + 0.0625
    assert not list((level.out / "slices").glob("depth_*"))
    page = (level.out / "index.html").read_text()
    assert "Level slices by elevation" in page
    assert "Depth slices" not in page


def test_what_is_delivered_hangs_below_the_ground(sloping):
    """Lines carry the ground's elevation, the store the ground itself, and the scene is draped."""
    lines = geopandas.read_file(sloping.out / "features.gpkg", layer="lines_walked")
    ends = [g.coords[0] for g in lines.geometry] + [g.coords[-1] for g in lines.geometry]
    for _, north, z in ends:
        assert z == pytest.approx(slope(0, north - 5400000.0), abs=0.02)
    with xarray.open_zarr(sloping.out / "volume.zarr", chunks=None) as data:
        ground = data["ground_elevation"]
        assert ground.dims == ("y", "x")
        inside = ground.sel(y=slice(0, 3))
        np.testing.assert_allclose(inside, slope(0, inside.y.values)[:, None] + 0 * inside, atol=0.02)
    blocks = pyvista.read(sloping.out / "scene.vtm")
    rise = np.ptp(blocks["ground"]["ground surface"].points[:, 2])
    assert rise == pytest.approx(3.0 * np.tan(np.radians(15)), abs=0.4)
    sheet = blocks["slices"][0]
    assert np.ptp(sheet.points[:, 2]) == pytest.approx(rise, abs=0.05)
    raw = (sloping.out / "scene.glb").read_bytes()
    about = json.loads(raw[20 : 20 + struct.unpack("<I", raw[12:16])[0]])
    assert any(node.get("name") == "ground surface" for node in about["nodes"])
    assert about["asset"]["extras"]["origin_elevation_m"] == 120.0
