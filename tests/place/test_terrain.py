"""Ground heights at traces."""

from __future__ import annotations

import numpy as np
import pytest

from gridmap.errors import PlaceError, ReadError
from gridmap.model import IDENTITY, HeightRaster, Points, Similarity
from gridmap.place.terrain import heights_from_points, heights_from_raster
from gridmap.read.terrain import read_height_raster


def plane(xy):
    return 60.0 + 0.1 * xy[:, 0] - 0.05 * xy[:, 1]


def points(xy, frame="local", height=None) -> Points:
    height = plane(xy) if height is None else height
    return Points(("",) * len(xy), frame, np.column_stack([xy, height]), "ground.csv")


CORNERS = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 8.0], [0.0, 8.0], [4.0, 3.0]])


def test_a_plane_is_met_exactly():
    """Whatever the triangles, a plane comes back; outside, the rim counts up to 2 m, then nothing is known."""
    xy = np.random.default_rng(1).uniform([0, 0], [10, 8], (50, 2))
    assert heights_from_points(points(CORNERS), xy, IDENTITY) == pytest.approx(plane(xy))
    rim = heights_from_points(points(CORNERS), np.array([[11.0, 4.0], [13.0, 4.0]]), IDENTITY)
    assert rim[0] == pytest.approx(plane(np.array([[10.0, 4.0]]))[0])
    assert np.isnan(rim[1])


def test_map_points_are_taken_to_the_grid():
    """Points in easting and northing serve traces in the local grid, far from the origin too."""
    turned = Similarity(431877.2, 5712345.6, np.cos(0.7), np.sin(0.7))
    xy = np.array([[2.0, 2.0], [7.5, 6.0]])
    there = points(turned.to_map(CORNERS), "map", plane(CORNERS))
    assert heights_from_points(there, xy, turned) == pytest.approx(plane(xy), abs=1e-6)


def test_too_few_points_a_row_and_a_contradiction_are_refused():
    """Each is told with its file."""
    for xy, height, said in (
        (CORNERS[:2], None, "three are the least"),
        (np.column_stack([np.arange(5.0), np.arange(5.0)]), None, "one row"),
        (CORNERS[[0, 1, 2, 0]], np.array([1.0, 1.0, 1.0, 2.0]), "differ by 1.00 m"),
    ):
        with pytest.raises(PlaceError, match=said) as caught:
            heights_from_points(points(xy, height=height), CORNERS, IDENTITY)
        assert "ground.csv" in str(caught.value)


def raster() -> HeightRaster:
    """Half-metre cells over 0 to 10 m east and 0 to 8 m north, holding the plane at cell centres."""
    east, north = 0.25 + 0.5 * np.arange(20), 7.75 - 0.5 * np.arange(16)
    grid = np.stack(np.meshgrid(east, north), axis=-1)
    values = plane(grid.reshape(-1, 2)).reshape(16, 20).astype(np.float32)
    return HeightRaster(values, (0.5, 0.0, 0.0, 0.0, -0.5, 8.0), None, "dem.tif")


def test_a_raster_of_a_plane_gives_the_plane_between_its_centres():
    """Bilinear interpolation is exact on a plane; outside and beside cells without data nothing is known."""
    xy = np.random.default_rng(2).uniform([0.3, 0.3], [9.7, 7.7], (50, 2))
    assert heights_from_raster(raster(), xy, IDENTITY) == pytest.approx(plane(xy), abs=1e-5)
    assert np.isnan(heights_from_raster(raster(), np.array([[-0.1, 4.0], [5.0, 8.1]]), IDENTITY)).all()
    holed = raster()
    holed.height_m[3, 4] = np.nan
    near = np.array([[2.2, 6.2], [5.0, 2.0]])
    assert np.isnan(heights_from_raster(holed, near, IDENTITY)).tolist() == [True, False]


def test_a_raster_file_is_read_as_rasterio_wrote_it(tmp_path):
    """No data becomes NaN; rasterio's own sampling agrees at cell centres; a part is read with its own corner."""
    rasterio = pytest.importorskip("rasterio")
    path = tmp_path / "dem.tif"
    source = raster()
    values = source.height_m.copy()
    values[0, 0] = -9999
    with rasterio.open(
        path, "w", driver="GTiff", width=20, height=16, count=1, dtype="float32", nodata=-9999, crs="EPSG:32630",
        transform=rasterio.Affine(*source.affine),
    ) as target:  # fmt: skip
        target.write(values, 1)
    read = read_height_raster(path)
    assert np.isnan(read.height_m[0, 0])
    assert np.array_equal(read.height_m[1:], values[1:])
    assert read.affine == source.affine
    part = read_height_raster(path, (2.0, 2.0, 5.0, 4.0))
    assert part.height_m.size < values.size / 2
    places = [(2.75, 2.25), (4.25, 3.75)]
    with rasterio.open(path) as opened:
        theirs = [value[0] for value in opened.sample(places)]
    assert heights_from_raster(part, np.array(places), IDENTITY) == pytest.approx(theirs)
    with pytest.raises(ReadError, match="does not reach"):
        read_height_raster(path, (100.0, 100.0, 101.0, 101.0))


def test_what_is_no_raster_is_refused_in_one_row(tmp_path):
    """Text and a missing file."""
    (tmp_path / "x.tif").write_text("no raster")
    for name in ("x.tif", "y.tif"):
        with pytest.raises(ReadError) as caught:
            read_height_raster(tmp_path / name)
        assert "\n" not in str(caught.value)
