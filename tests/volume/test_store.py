"""The store is reopened with xarray, and its metadata read as plain JSON."""

import hashlib
import json
import time
import warnings

import numpy as np
import pytest
import xarray as xr
from pyproj import CRS

from gridmap.errors import OurFaultError, OutputError, ReadError
from gridmap.model import Grid, Similarity, Volume
from gridmap.volume import store

WKT = CRS.from_epsg(25832).to_wkt()
TURNED = Similarity(500000.0, 5300000.0, 0.8, 0.6)


def volume_of(shape=(5, 7, 9), axis="depth", step=0.1):
    values = np.random.default_rng(3).random(shape, dtype=np.float32)
    values[:, :2, :] = np.nan
    return Volume(values, Grid(-0.3, 1.7, 0.05, *shape[1:]), axis, 0.0, step, "envelope")


def digests(folder):
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    return {str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def test_xarray_opens_the_depth_volume_at_the_root(tmp_path):
    """Dimensions, co-ordinates, units and values come back by name, without a warning."""
    volume = volume_of()
    store.write_volume(tmp_path / "volume.zarr", volume, TURNED, WKT, {"title": "Meadow"})
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = xr.open_zarr(tmp_path / "volume.zarr")
    assert found["amplitude"].dims == ("z", "y", "x")
    np.testing.assert_array_equal(found["amplitude"].values, volume.values)
    assert found["amplitude"].dtype == np.float32
    np.testing.assert_allclose(found["z"], [0.0, 0.1, 0.2, 0.3, 0.4], atol=1e-12)
    np.testing.assert_array_equal(found["y"], volume.grid.y_m())
    np.testing.assert_array_equal(found["x"], volume.grid.x_m())
    assert found["z"].attrs["positive"] == "down"
    assert found["z"].attrs["standard_name"] == "depth"
    assert {found[name].attrs["units"] for name in "zyx"} == {"m"}
    assert found.attrs["title"] == "Meadow"
    hot = found["amplitude"].sel(z=0.2, y=1.9, x=0.05, method="nearest")
    assert float(hot) == volume.values[2, 4, 7]  # 1.9 = 1.7 + 4 x 0.05; 0.05 = -0.3 + 7 x 0.05


def test_a_time_volume_keeps_nanoseconds(tmp_path):
    """The first axis is t in ns and stays a number: no reader may turn it into a clock time."""
    volume = volume_of(axis="time", step=0.4)
    store.write_volume(tmp_path / "time.zarr", volume)
    found = xr.open_zarr(tmp_path / "time.zarr")
    assert found["amplitude"].dims == ("t", "y", "x")
    assert found["t"].dtype == np.float64
    assert found["t"].attrs["units"] == "ns"
    np.testing.assert_allclose(found["t"], 0.4 * np.arange(5))


def test_spatial_ref_takes_cells_to_the_map(tmp_path):
    """GeoTransform, in GDAL's order, puts the centre of cell (4, 7) where the similarity puts its x and y."""
    volume = volume_of()
    store.write_volume(tmp_path / "v.zarr", volume, TURNED, WKT)
    attrs = xr.open_zarr(tmp_path / "v.zarr")["spatial_ref"].attrs
    assert CRS.from_wkt(attrs["crs_wkt"]) == CRS.from_epsg(25832)
    c, a, b, f, d, e = (float(word) for word in attrs["GeoTransform"].split())
    column, row = 7.5, 4.5
    place = (c + a * column + b * row, f + d * column + e * row)
    # By hand: x = 0.05, y = 1.90; E = 500000 + 0.8 x - 0.6 y, N = 5300000 + 0.6 x + 0.8 y
    assert place == pytest.approx((500000 + 0.04 - 1.14, 5300000 + 0.03 + 1.52), abs=1e-6)
    assert attrs["rotation_deg"] == pytest.approx(36.8698976)  # atan(3/4)
    assert attrs["scale"] == pytest.approx(1.0)


def test_grid_mapping_only_where_x_and_y_are_on_the_map(tmp_path):
    """A turned grid must not be drawn at its local numbers; a grid in map co-ordinates says so the CF way."""
    store.write_volume(tmp_path / "turned.zarr", volume_of(), TURNED, WKT)
    store.write_volume(tmp_path / "map.zarr", volume_of(), crs_wkt=WKT)
    turned, on_map = (xr.open_zarr(tmp_path / f"{n}.zarr") for n in ("turned", "map"))
    assert "grid_mapping" not in {**turned["amplitude"].attrs, **turned["amplitude"].encoding}
    assert {**on_map["amplitude"].attrs, **on_map["amplitude"].encoding}["grid_mapping"] == "spatial_ref"
    assert on_map["x"].attrs["standard_name"] == "projection_x_coordinate"


def test_read_gives_back_what_was_written(tmp_path):
    """Grid, axis and values return to the bit, also where the sides are odd numbers."""
    volume = Volume(
        np.random.default_rng(0).random((33, 40, 131), dtype=np.float32),
        Grid(0.1 + 0.2, -1 / 3, 0.07, 40, 131),
        "time",
        0.1,
        0.3,
        "migrated echo",
    )
    store.write_volume(tmp_path / "v.zarr", volume)
    back = store.read_volume(tmp_path / "v.zarr")
    np.testing.assert_array_equal(back.values, volume.values)
    assert (back.grid, back.axis, back.first, back.step, back.quantity) == (
        volume.grid, "time", 0.1, 0.3, "migrated echo",
    )  # fmt: skip


def test_the_files_are_zarr_version_three(tmp_path):
    """zarr.json says format 3, names the dimensions, fills with NaN and compresses with Blosc Zstandard."""
    store.write_volume(tmp_path / "v.zarr", volume_of((70, 130, 257)))
    meta = json.loads((tmp_path / "v.zarr" / "amplitude" / "zarr.json").read_text())
    assert meta["zarr_format"] == 3
    assert meta["dimension_names"] == ["z", "y", "x"]
    assert meta["fill_value"] == "NaN"
    assert meta["chunk_grid"]["configuration"]["chunk_shape"] == [24, 65, 86]
    (blosc,) = (codec for codec in meta["codecs"] if codec["name"] == "blosc")
    assert blosc["configuration"]["cname"] == "zstd"


def test_chunks_split_evenly():
    """401 cells are four chunks of 101, not three of 128 and one of 17 that is stored as 128."""
    assert store.chunk_shape((256, 401, 401)) == (32, 101, 101)
    assert store.chunk_shape((1, 2, 3)) == (1, 2, 3)


def test_blank_chunks_take_no_space(tmp_path):
    """A chunk of NaN alone has no file, and reads as NaN."""
    values = np.full((10, 200, 200), np.nan, dtype=np.float32)
    values[:, :50, :50] = 1.0
    store.write_volume(tmp_path / "v.zarr", Volume(values, Grid(0, 0, 0.1, 200, 200), "depth", 0, 0.1, "e"))
    assert len([p for p in (tmp_path / "v.zarr" / "amplitude" / "c").rglob("*") if p.is_file()]) == 1
    np.testing.assert_array_equal(store.read_volume(tmp_path / "v.zarr").values, values)


def test_the_same_input_gives_the_same_bytes(tmp_path):
    """Two runs a second apart give the same files with the same SHA."""
    volume = volume_of((64, 130, 140))
    store.write_volume(tmp_path / "a.zarr", volume, TURNED, WKT)
    time.sleep(1.1)
    store.write_volume(tmp_path / "b.zarr", volume, TURNED, WKT)
    assert digests(tmp_path / "a.zarr") == digests(tmp_path / "b.zarr")


def test_failure_midway_leaves_the_earlier_store(tmp_path, monkeypatch):
    """When writing breaks after the values, the old store still stands with nothing beside it."""
    store.write_volume(tmp_path / "v.zarr", volume_of())
    before = digests(tmp_path / "v.zarr")

    def breaks(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store, "_write_axis", breaks)
    with pytest.raises(OutputError, match=r"v\.zarr: cannot be written .*No space left"):
        store.write_volume(tmp_path / "v.zarr", volume_of((6, 7, 9)))
    assert digests(tmp_path / "v.zarr") == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["v.zarr"]


def test_a_store_that_does_not_fit_leaves_nothing(tmp_path):
    """The system stops a chunk at 100 kB: an error, and no folder, finished or not."""
    resource = pytest.importorskip("resource")
    volume = Volume(
        np.random.default_rng(0).random((32, 100, 100), dtype=np.float32),
        Grid(0, 0, 0.1, 100, 100),
        "depth",
        0,
        0.1,
        "e",
    )
    limit = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, limit[1]))
    try:
        with pytest.raises(OutputError, match=r"^v\.zarr: cannot be written [^\n]*free space$"):
            store.write_volume(tmp_path / "v.zarr", volume)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limit)
    assert list(tmp_path.iterdir()) == []


def test_what_is_no_volume_is_said_on_one_line(tmp_path):
    """A missing store, and a group without a volume, give a ReadError that names the folder."""
    with pytest.raises(ReadError, match=r"^gone\.zarr: not a volume[^\n]*$"):
        store.read_volume(tmp_path / "gone.zarr")
    xr.Dataset({"amplitude": (("z", "y", "x"), np.zeros((2, 2, 2)))}).to_zarr(
        tmp_path / "other.zarr", zarr_format=3, consolidated=False
    )
    with pytest.raises(ReadError, match=r"^other\.zarr: not a volume[^\n]*$"):
        store.read_volume(tmp_path / "other.zarr")


def test_sizes_and_attributes_that_do_not_fit_are_our_fault(tmp_path):
    """Values of another shape than the grid, or a NaN among the attributes, are refused."""
    volume = volume_of()
    wrong = Volume(volume.values[:, :-1], volume.grid, "depth", 0.0, 0.1, "e")
    with pytest.raises(OurFaultError, match="shape"):
        store.write_volume(tmp_path / "v.zarr", wrong)
    with pytest.raises(OurFaultError, match="strict JSON"):
        store.write_volume(tmp_path / "v.zarr", volume, attrs={"bad": float("nan")})
    assert list(tmp_path.iterdir()) == []
