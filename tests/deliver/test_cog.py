"""Rasters are reopened with rasterio (GDAL) and judged by rio-cogeo's validator, a second implementation."""

import time

import numpy as np
import pytest
import rasterio
from pyproj import CRS
from rio_cogeo.cogeo import cog_validate

from gridmap.deliver import cog
from gridmap.deliver.caution import CAUTION
from gridmap.errors import InputError, OurFaultError, OutputError
from gridmap.model import RasterGrid, SliceStack, VelocityModel, Window

WKT = CRS.from_epsg(25832).to_wkt()
VELOCITY = VelocityModel.constant(0.1, 0.004, "stated")


def raster_of(rows=401, columns=401, crs=WKT, cell=0.05):
    return RasterGrid(500000.0, 5300000.0, cell, rows, columns, crs)


def stack_of(raster, count=3, quantity="envelope"):
    values = np.random.default_rng(5).random((count, *raster.shape), dtype=np.float32)
    values[:, :2, :] = np.nan
    windows = tuple(Window("depth", 0.1 * k, 0.1 * (k + 1), 2.0 * k, 2.0 * (k + 1)) for k in range(count))
    return SliceStack(values, windows, quantity)


def test_a_hot_cell_is_found_at_its_map_coordinate(tmp_path):
    """The cell centred at E 500000.125, N 5299999.625 answers there, and its edge is half a cell off."""
    raster = raster_of(20, 30)
    values = np.full((1, 20, 30), np.nan, dtype=np.float32)
    values[0, 7, 2] = 5.0  # row 7: 7.5 cells south of the edge; column 2: 2.5 cells east
    cog.write_cog(tmp_path / "hot.tif", values, raster)
    with rasterio.open(tmp_path / "hot.tif") as dataset:
        east, north = 500000.0 + 2.5 * 0.05, 5300000.0 - 7.5 * 0.05
        assert dataset.xy(7, 2) == pytest.approx((east, north), abs=1e-6)
        inside = [(east + dx, north + dy) for dx in (-0.024, 0.024) for dy in (-0.024, 0.024)]
        outside = [(east + 0.026, north), (east - 0.026, north), (east, north + 0.026), (east, north - 0.026)]
        assert [float(v[0]) for v in dataset.sample(inside)] == [5.0] * 4
        assert all(np.isnan(v[0]) for v in dataset.sample(outside))
        assert dataset.bounds == pytest.approx(raster.bounds, abs=1e-6)
        assert np.isnan(dataset.nodata)
        assert dataset.dtypes == ("float32",)
        assert dataset.crs.to_epsg() == 25832
        assert dataset.tags()["AREA_OR_POINT"] == "Area"
        assert dataset.read(1, masked=True).count() == 1


@pytest.mark.parametrize(
    ("rows", "columns", "bands"), [(1, 1, 1), (20, 30, 1), (401, 401, 40), (700, 530, 2), (1300, 90, 1)]
)
def test_every_size_is_a_valid_cog(tmp_path, rows, columns, bands):
    """rio-cogeo finds neither error nor warning, from one cell to several tiles with overviews."""
    values = np.random.default_rng(1).random((bands, rows, columns), dtype=np.float32)
    path = tmp_path / "a.tif"
    cog.write_cog(path, values, raster_of(rows, columns))
    valid, errors, warnings = cog_validate(path, strict=True, quiet=True)
    assert valid, (errors, warnings)
    with rasterio.open(path) as dataset:
        np.testing.assert_array_equal(dataset.read(), values)
        assert dataset.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert dataset.tags(ns="IMAGE_STRUCTURE")["COMPRESSION"] == "DEFLATE"
        assert dataset.tags(ns="IMAGE_STRUCTURE").get("PREDICTOR") == "3"
        assert bool(dataset.overviews(1)) == (max(rows, columns) > 512)
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.tif"]


def test_overviews_average_what_is_known_and_keep_blank_blank(tmp_path):
    """A half-resolution cell over three blanks and a 4 is 4, not NaN and not 1; over blanks it is blank."""
    values = np.full((1, 600, 600), np.nan, dtype=np.float32)
    values[0, 101, 201] = 4.0
    cog.write_cog(tmp_path / "a.tif", values, raster_of(600, 600))
    with rasterio.open(tmp_path / "a.tif", overview_level=0) as dataset:
        assert dataset.shape == (300, 300)
        half = dataset.read(1)
    assert half[50, 100] == 4.0
    assert np.isfinite(half).sum() == 1


def test_tiles_are_chosen_from_the_raster():
    """A 401 x 401 raster is padded below 10 %, not by the 60 % of 256-cell tiles."""
    side = cog.tile_side(401, 401)
    assert side % 16 == 0
    padded = (-(-401 // side) * side) ** 2
    assert padded / 401**2 < 1.10
    assert 4 * 40 * cog.tile_side(401, 401, 40) ** 2 <= 8_000_000
    assert cog.tile_side(5000, 5000) >= 256
    assert cog.tile_side(10, 10, 10_000) == 128


def test_slices_carry_window_velocity_and_caution(tmp_path):
    """Each slice is a file of its own whose name sorts by depth and whose tags say what it stands for."""
    raster = raster_of(40, 50)
    stack = stack_of(raster)
    paths = cog.write_slices(tmp_path / "slices", [stack], raster, VELOCITY)
    assert [p.name for p in paths] == [
        "depth_00.00-00.10m.tif",
        "depth_00.10-00.20m.tif",
        "depth_00.20-00.30m.tif",
    ]
    assert sorted(tmp_path.glob("slices/*")) == paths
    for k, path in enumerate(paths):
        with rasterio.open(path) as dataset:
            tags = dataset.tags()
            np.testing.assert_array_equal(dataset.read(1), stack.values[k])
            assert "0.10 to 0.20 m" in dataset.descriptions[0] or k != 1
        expected = {
            "WINDOW_TOP_M": 0.1 * k,
            "WINDOW_BASE_M": 0.1 * (k + 1),
            "WINDOW_TOP_NS": 2.0 * k,
            "WINDOW_BASE_NS": 2.0 * (k + 1),
            "VELOCITY_M_PER_NS": 0.1,
            "VELOCITY_SD_M_PER_NS": 0.004,
        }
        assert {key: float(tags[key]) for key in expected} == pytest.approx(expected)
        assert tags["QUANTITY"] == "envelope"
        assert tags["CAUTION"] == CAUTION


def test_the_stack_holds_the_same_slices_as_bands(tmp_path):
    """Band k of slices.tif equals slice k, with its own window in description and tags."""
    raster = raster_of(40, 50)
    stack = stack_of(raster)
    cog.write_slice_stack(tmp_path / "slices.tif", stack, raster, VELOCITY)
    with rasterio.open(tmp_path / "slices.tif") as dataset:
        np.testing.assert_array_equal(dataset.read(), stack.values)
        assert dataset.descriptions == tuple(f"depth {w.label}" for w in stack.windows)
        assert [float(dataset.tags(k)["WINDOW_BASE_M"]) for k in (1, 2, 3)] == pytest.approx([0.1, 0.2, 0.3])
        assert float(dataset.tags()["VELOCITY_M_PER_NS"]) == 0.1


def test_coverage_without_crs_has_the_affine_only(tmp_path):
    """A map in local metres opens without a CRS, at its place."""
    raster = raster_of(8, 9, crs=None)
    cog.write_coverage(tmp_path / "coverage.tif", np.full((8, 9), 0.25, dtype=np.float32), raster)
    with rasterio.open(tmp_path / "coverage.tif") as dataset:
        assert dataset.crs is None
        assert dataset.bounds == pytest.approx(raster.bounds)
        assert dataset.descriptions == ("distance to the nearest trace, m",)
        assert "distance" in dataset.tags()["QUANTITY"]


def test_the_same_input_gives_the_same_bytes(tmp_path):
    """Two runs a second apart, tags in another order, give one SHA."""
    raster = raster_of(600, 700)
    values = stack_of(raster).values
    cog.write_cog(tmp_path / "a.tif", values, raster, tags={"A": 1, "B": 2})
    time.sleep(1.1)
    cog.write_cog(tmp_path / "b.tif", values, raster, tags={"B": 2, "A": 1})
    assert (tmp_path / "a.tif").read_bytes() == (tmp_path / "b.tif").read_bytes()


def test_failure_midway_leaves_the_folder_as_it_was(tmp_path, monkeypatch):
    """When the second slice cannot be written, the slices of the earlier run still stand and nothing else."""
    raster = raster_of(20, 20)
    folder = tmp_path / "slices"
    before = {
        p.name: p.read_bytes() for p in cog.write_slices(folder, [stack_of(raster, 2)], raster, VELOCITY)
    }
    real = cog.write_cog

    def fails_at_second(path, *rest, **more):
        if "00.10" in path.stem[:12]:
            raise OutputError("disk full")
        real(path, *rest, **more)

    monkeypatch.setattr(cog, "write_cog", fails_at_second)
    with pytest.raises(OutputError, match="disk full"):
        cog.write_slices(folder, [stack_of(raster, 3)], raster, VELOCITY)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["slices"]


@pytest.mark.parametrize("side", [300, 900])
def test_a_file_that_does_not_fit_leaves_nothing(tmp_path, side):
    """The system stops the file at 100 kB, without and with overviews: an error and no file at all."""
    resource = pytest.importorskip("resource")
    values = np.random.default_rng(0).random((1, side, side), dtype=np.float32)
    limit = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, limit[1]))
    try:
        with pytest.raises(OutputError, match=r"^a\.tif: cannot be written [^\n]*free space$"):
            cog.write_cog(tmp_path / "a.tif", values, raster_of(side, side))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limit)
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_said_on_one_line(tmp_path):
    """The message names the file and what to do."""
    with pytest.raises(OutputError, match=r"^a\.tif: cannot be written [^\n]*check the folder[^\n]*$"):
        cog.write_cog(tmp_path / "gone" / "a.tif", np.zeros((1, 8, 8), np.float32), raster_of(8, 8))


def test_slices_with_one_name_are_refused(tmp_path):
    """Windows 2 mm thick share names of centimetres: an error, not a lost slice."""
    raster = raster_of(4, 4)
    windows = tuple(Window("depth", 0.002 * k, 0.002 * (k + 1), 0.0, 1.0) for k in range(3))
    stack = SliceStack(np.zeros((3, 4, 4), np.float32), windows, "envelope")
    with pytest.raises(InputError, match="make them thicker"):
        cog.write_slices(tmp_path / "slices", [stack], raster, VELOCITY)
    assert list(tmp_path.iterdir()) == []


def test_sizes_that_do_not_fit_are_our_fault(tmp_path):
    """Bands of another shape than the raster, or names for more bands, are refused; nothing is written."""
    with pytest.raises(OurFaultError, match="shape"):
        cog.write_cog(tmp_path / "a.tif", np.zeros((1, 8, 9), np.float32), raster_of(8, 8))
    with pytest.raises(OurFaultError, match="band names"):
        cog.write_cog(
            tmp_path / "a.tif", np.zeros((1, 8, 8), np.float32), raster_of(8, 8), band_names=["a", "b"]
        )
    assert list(tmp_path.iterdir()) == []
