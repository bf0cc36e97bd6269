"""Rasters of heights from files that mean no good."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from gridmap.errors import ReadError
from gridmap.read.terrain import read_height_raster


def raster(path: Path, height: np.ndarray, **more: object) -> Path:
    where = from_origin(431870.0, 5712360.0, 0.5, 0.5)
    rows, columns = height.shape
    profile = {"driver": "GTiff", "width": columns, "height": rows, "count": 1, "dtype": height.dtype, **more}
    with rasterio.open(path, "w", transform=where, **profile) as out:
        for band in range(1, int(str(profile["count"])) + 1):
            out.write(height, band)
    return path


def test_a_format_that_names_other_files_is_not_opened(tmp_path):
    """A virtual raster, which can point to any file or address, is refused though the library could read it."""
    real = raster(tmp_path / "real.tif", np.full((4, 4), 60, np.float32))
    (tmp_path / "d.tif").write_text(
        '<VRTDataset rasterXSize="4" rasterYSize="4"><GeoTransform>0,1,0,0,0,-1</GeoTransform>'
        '<VRTRasterBand dataType="Float32" band="1"><SimpleSource>'
        f"<SourceFilename>{real}</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>"
    )
    with rasterio.open(tmp_path / "d.tif") as theirs:
        assert theirs.read(1).shape == (4, 4)
    with pytest.raises(ReadError, match="no raster of heights that can be read"):
        read_height_raster(tmp_path / "d.tif")


def test_an_ascii_grid_is_read(tmp_path):
    """Columns, rows, corner and cell size as in the header, no-data as NaN."""
    head = "ncols 3\nnrows 2\nxllcorner 100\nyllcorner 200\ncellsize 2\nNODATA_value -9999\n"
    (tmp_path / "g.asc").write_text(head + "1 2 3\n4 -9999 6\n")
    found = read_height_raster(tmp_path / "g.asc")
    np.testing.assert_array_equal(found.height_m, np.array([[1, 2, 3], [4, np.nan, 6]], np.float32))
    assert found.affine == (2.0, 0.0, 100.0, 0.0, -2.0, 204.0)


@pytest.mark.parametrize(
    ("height", "more", "said"),
    [
        (np.full((4, 4), -32768, np.int16), {}, "not of this Earth, such as -32768 m"),
        (np.full((4, 4), 3e38, np.float64), {}, "not of this Earth"),
        (np.zeros((4, 4), np.float32), {"count": 20}, "20 bands"),
        (np.zeros((3, 3)), {"width": 60_000, "height": 60_000, "sparse_ok": True, "tiled": True}, "promises"),
    ],
)  # fmt: skip
def test_what_cannot_be_heights_is_refused(tmp_path, height, more, said):
    """No-data that is not stated, pictures of many bands, and headers that promise more than the bytes hold."""
    if "sparse_ok" in more:
        path = tmp_path / "d.tif"
        with rasterio.open(path, "w", driver="GTiff", count=1, dtype="uint8", transform=from_origin(1, 9, 1, 1),
                           compress="deflate", **more):  # fmt: skip
            pass
    else:
        path = raster(tmp_path / "d.tif", height, **more)
    with pytest.raises(ReadError, match=said) as caught:
        read_height_raster(path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("bounds", [None, (431872.0, 5712352.0, 431874.0, 5712354.0)])
@pytest.mark.parametrize("corner", [(np.nan, 5712360.0), (431870.0, np.nan), (np.inf, 0.0)])
def test_a_raster_without_a_place_is_refused(tmp_path, corner, bounds):
    """Cells of sound size whose corner is no number, which fuzzing found, lie nowhere."""
    path = raster(tmp_path / "d.tif", np.full((4, 4), 60, np.float32))
    with rasterio.open(path, "r+") as out:
        out.transform = rasterio.Affine(0.5, 0.0, corner[0], 0.0, -0.5, corner[1])
    with pytest.raises(ReadError, match="no area or no place"):
        read_height_raster(path, bounds)
