"""Writing rasters and the volume, against bare rasterio and bare zarr with the same options.

Run: python -m benchmarks.write_rasters

Goal: at most 1.3 times the bare library. Sizes of survey S: 40 slices of 401 x 401 cells, a volume of
256 x 401 x 401. Each pair is run in turn, several times; the ratio is that of the smallest wall times.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
import zarr
from scipy.ndimage import gaussian_filter
from zarr.codecs import BloscCodec

from gridmap.deliver.cog import cog_options, write_cog, write_slice_stack, write_slices
from gridmap.model import Grid, RasterGrid, SliceStack, VelocityModel, Volume, Window
from gridmap.volume.store import chunk_shape, write_volume

GOAL = 1.3
CRS_WKT = rasterio.crs.CRS.from_epsg(25832).to_wkt()


def bare_cog(path: Path, bands: np.ndarray, raster: RasterGrid) -> None:
    with rasterio.open(path, "w", nodata=float("nan"), **cog_options(raster, len(bands))) as dataset:
        dataset.write(bands)


def bare_slices(folder: Path, stack: SliceStack, raster: RasterGrid) -> None:
    folder.mkdir(exist_ok=True)
    for k, values in enumerate(stack.values):
        bare_cog(folder / f"{k}.tif", values[None], raster)


def bare_zarr(folder: Path, values: np.ndarray) -> None:
    array = zarr.create_array(
        folder,
        shape=values.shape,
        dtype="float32",
        chunks=chunk_shape(values.shape),
        compressors=BloscCodec(cname="zstd", clevel=3, shuffle="shuffle"),
        fill_value=float("nan"),
        zarr_format=3,
        overwrite=True,
    )
    array[...] = values


def compare(
    name: str, ours: Callable[[], None], bare: Callable[[], None], times: int = 5
) -> tuple[str, float, float]:
    """Name, and the smallest wall seconds of both."""
    best = {ours: np.inf, bare: np.inf}
    for _ in range(times):
        for act in (bare, ours):
            start = time.perf_counter()
            act()
            best[act] = min(best[act], time.perf_counter() - start)
    ratio = best[ours] / best[bare]
    verdict = f"{'within' if ratio <= GOAL else 'OVER'} {GOAL}"
    print(f"{name:28s} gridmap {best[ours]:.3f} s  bare {best[bare]:.3f} s  ratio {ratio:.2f} ({verdict})")
    return name, best[ours], best[bare]


def compare_all() -> list[tuple[str, float, float]]:
    """Compare each kind of file; (name, our wall seconds, those of the bare library)."""
    noise = np.random.default_rng(7).standard_normal((256, 401, 401), dtype=np.float32)
    values = gaussian_filter(noise, (1.5, 2.5, 2.5))
    values[:, :20, :] = np.nan
    raster = RasterGrid(500000.0, 5300020.0, 0.05, 401, 401, CRS_WKT)
    windows = tuple(Window("depth", 0.05 * k, 0.05 * k + 0.1, k, k + 2.0) for k in range(40))
    stack = SliceStack(np.ascontiguousarray(values[:240:6]), windows, "envelope")
    velocity = VelocityModel.constant(0.1, 0.005, "benchmark")
    volume = Volume(values, Grid(0.0, 0.0, 0.05, 401, 401), "depth", 0.0, 0.01, "envelope")
    large = RasterGrid(500000.0, 5300020.0, 0.05, 1604, 1604, CRS_WKT)
    wide = np.tile(stack.values[:1], (1, 4, 4))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        found = []
        found.append(
            compare(
                "40 slices, a file each",
                lambda: write_slices(folder / "slices", [stack], raster, velocity) and None,
                lambda: bare_slices(folder / "bare", stack, raster),
            )
        )
        found.append(
            compare(
                "40 slices in one file",
                lambda: write_slice_stack(folder / "a.tif", stack, raster, velocity),
                lambda: bare_cog(folder / "b.tif", stack.values, raster),
            )
        )
        found.append(
            compare(
                "1604 x 1604 with overviews",
                lambda: write_cog(folder / "c.tif", wide, large),
                lambda: bare_cog(folder / "d.tif", wide, large),
            )
        )
        found.append(
            compare(
                "volume 256 x 401 x 401",
                lambda: write_volume(folder / "a.zarr", volume, crs_wkt=CRS_WKT),
                lambda: bare_zarr(folder / "b.zarr", values),
            )
        )
        print(
            f"slices.tif {(folder / 'a.tif').stat().st_size / 1e6:.1f} of {stack.values.nbytes / 1e6:.1f} MB"
        )
        store = sum(p.stat().st_size for p in (folder / "a.zarr").rglob("*") if p.is_file())
        print(f"volume.zarr {store / 1e6:.1f} of {values.nbytes / 1e6:.1f} MB")
    return found


if __name__ == "__main__":
    compare_all()
