"""Slices and maps as Cloud Optimized GeoTIFF: north-up, float32, NaN where blank.

DEFLATE with the floating-point predictor (TIFF predictor 3): measured on 40 slices of smoothed noise, 9 %
smaller than without; ZSTD gained neither time nor size, and older readers do not know it. Level 1: level 6 took
half as long again for files 1 to 5 % smaller.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from rasterio._err import CPLE_BaseError  # GDAL's own errors; not below RasterioError
from rasterio.errors import RasterioError
from rasterio.io import MemoryFile
from rasterio.transform import Affine

from gridmap.condition.reach import OVER_NOISE, STATED_ECHO
from gridmap.deliver.caution import CAUTION
from gridmap.errors import InputError, OurFaultError, OutputError
from gridmap.files import whole_file, whole_folder
from gridmap.model import Float32, RasterGrid, SliceStack, VelocityModel, Window
from gridmap.threads import each

_NO_OVERVIEWS_UP_TO = 512  # cells a side; the COG validator asks for overviews above this
_TILE_BYTES = 8_000_000  # all bands of one tile are decoded together
_TILE_COST_CELLS = 2048  # what one more tile costs, in cells; keeps tiny tiles from winning


def tile_side(rows: int, columns: int, bands: int = 1) -> int:
    """Choose the tile side that pads a raster least.

    Parameters
    ----------
    rows, columns : int
        Size of the raster.
    bands : int
        Bands that share a tile (pixel interleaving).

    Returns
    -------
    int
        A multiple of 16 (TIFF 6.0, TileWidth) from 128 to 512; a tile takes at most 8 MB if it can.
    """
    largest = int(np.sqrt(_TILE_BYTES / (4 * bands)))
    sides = [side for side in range(512, 127, -16) if side <= largest] or [128]

    def cost(side: int) -> int:
        return -(-rows // side) * -(-columns // side) * (side * side + _TILE_COST_CELLS)

    return min(sides, key=cost)


def cog_options(raster: RasterGrid, bands: int) -> dict[str, object]:
    """Return the creation options and georeference that rasterio is given for a raster of this size."""
    return {
        "driver": "COG",
        "width": raster.columns,
        "height": raster.rows,
        "count": bands,
        "dtype": "float32",
        "crs": raster.crs_wkt,
        "transform": Affine(*raster.affine),
        "compress": "DEFLATE",
        "level": 1,
        "predictor": "YES",  # for float32: predictor 3
        "blocksize": tile_side(raster.rows, raster.columns, bands),
        "overviews": "NONE" if max(raster.shape) <= _NO_OVERVIEWS_UP_TO else "AUTO",
        "overview_resampling": "AVERAGE",
        "bigtiff": "IF_SAFER",
        "num_threads": 1 if bands == 1 else 2,
    }


def write_cog(
    path: Path,
    bands: Float32,
    raster: RasterGrid,
    *,
    band_names: Sequence[str] = (),
    band_tags: Sequence[Mapping[str, object]] = (),
    tags: Mapping[str, object] | None = None,
    nodata: float = float("nan"),
) -> None:
    """Write bands as one Cloud Optimized GeoTIFF, whole or not at all; the same input gives the same bytes.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    bands : (band, row, column) float32
        Row 0 is the northernmost; NaN where blank.
    raster : RasterGrid
        Where the cells are. Without a CRS the file has the affine only.
    band_names : sequence of str
        Band descriptions; empty for none.
    band_tags : sequence of mapping
        Metadata items of each band; empty for none.
    tags : mapping or None
        Metadata items of the file. CAUTION and AREA_OR_POINT=Area are always added.
    nodata : float
        Value that stands for blank in `bands`.

    Raises
    ------
    OutputError
        If the file cannot be written.
    OurFaultError
        If the sizes do not fit the raster.
    """
    if bands.ndim != 3 or bands.shape[1:] != raster.shape or 0 in bands.shape:
        raise OurFaultError(f"{path.name}: bands have shape {bands.shape}, the raster is {raster.shape}")
    for words, what in ((band_names, "names"), (band_tags, "tags")):
        if words and len(words) != len(bands):
            raise OurFaultError(f"{path.name}: {len(words)} band {what} for {len(bands)} bands")
    try:
        # Made in memory, written by Python: on a full disk GDAL may leave a short file without an error.
        with MemoryFile(ext=".tif") as memory:
            with memory.open(nodata=nodata, **cog_options(raster, len(bands))) as dataset:
                dataset.write(np.asarray(bands, dtype=np.float32))
                dataset.update_tags(**_texts({**(tags or {}), "CAUTION": CAUTION, "AREA_OR_POINT": "Area"}))
                for index, name in enumerate(band_names, 1):
                    dataset.set_band_description(index, name)
                for index, items in enumerate(band_tags, 1):
                    dataset.update_tags(index, **_texts(items))
            with whole_file(path) as temporary:
                temporary.write_bytes(memory.getbuffer())
    except (RasterioError, CPLE_BaseError, OSError) as problem:
        reason = getattr(problem, "strerror", None) or " ".join(str(problem).split())
        raise OutputError(
            f"{path.name}: cannot be written ({reason}); check the folder, its rights and the free space"
        ) from problem


def write_slices(
    folder: Path, stacks: Sequence[SliceStack], raster: RasterGrid, velocity: VelocityModel
) -> list[Path]:
    """Write one single-band file a slice; the folder is replaced whole or left as it was.

    Parameters
    ----------
    folder : Path
        Folder of the slices; what stood there before goes, so that no slice of an earlier run stays behind.
    stacks : sequence of SliceStack
        Slices on the raster, (slice, row, column), such as one stack by depth and one by time.
    raster : RasterGrid
        Where the cells are.
    velocity : VelocityModel
        The velocity behind the depths; its mean to 1 m and standard deviation go into the tags and run.json.

    Returns
    -------
    list of Path
        The files, stack by stack, from the top down.

    Raises
    ------
    InputError
        If two slices would have the same name.
    OutputError
        If the folder cannot be written.
    """
    stems = [window.stem for stack in stacks for window in stack.windows]
    repeated = [stem for stem in dict.fromkeys(stems) if stems.count(stem) > 1]
    if repeated:
        raise InputError(
            f"slices: {stems.count(repeated[0])} would be named {repeated[0]}; make them thicker"
        )
    try:
        with whole_folder(folder) as temporary:

            def one(what: tuple[Window, Float32, str]) -> None:
                window, values, quantity = what
                write_cog(
                    temporary / f"{window.stem}.tif",
                    values[None],
                    raster,
                    band_names=[_band_name(window)],
                    tags={**window_tags(window), **velocity_tags(velocity), "QUANTITY": quantity},
                )

            each(
                one,
                [
                    (window, values, stack.quantity)
                    for stack in stacks
                    for window, values in zip(stack.windows, stack.values, strict=True)
                ],
            )
    except OSError as problem:
        raise OutputError(
            f"{folder.name}: folder cannot be written ({problem.strerror}); check its rights"
        ) from problem
    return [folder / f"{stem}.tif" for stem in stems]


def write_slice_stack(path: Path, stack: SliceStack, raster: RasterGrid, velocity: VelocityModel) -> None:
    """Write all slices as the bands of one file; each band has its window as description and tags.

    Parameters and errors as in `write_slices`.
    """
    write_cog(
        path,
        stack.values,
        raster,
        band_names=[_band_name(window) for window in stack.windows],
        band_tags=[window_tags(window) for window in stack.windows],
        tags={**velocity_tags(velocity), "QUANTITY": stack.quantity},
    )


def write_coverage(path: Path, distance_m: Float32, raster: RasterGrid) -> None:
    """Write the distance from each cell to the nearest trace.

    Parameters
    ----------
    path : Path
        The file.
    distance_m : (row, column) float32
        Metres; NaN where unknown.
    raster : RasterGrid
        Where the cells are.
    """
    name = "distance to the nearest trace, m"
    write_cog(path, distance_m[None], raster, band_names=[name], tags={"QUANTITY": name})


def write_reach(path: Path, depth_m: Float32, raster: RasterGrid) -> None:
    """Write the depth to which a stated echo would still stand above the noise.

    Parameters
    ----------
    path : Path
        The file.
    depth_m : (row, column) float32
        Metres; NaN where unknown.
    raster : RasterGrid
        Where the cells are.
    """
    name = "depth to which a stated echo would stand above the noise, m"
    stated = {"STATED_ECHO_OVER_GROUND": STATED_ECHO, "OVER_NOISE": OVER_NOISE}
    write_cog(path, depth_m[None], raster, band_names=[name], tags={"QUANTITY": name, **stated})


def write_interpolation_sd(path: Path, sd: Float32, raster: RasterGrid) -> None:
    """Write the standard error of the interpolation between the lines.

    Parameters
    ----------
    path : Path
        The file.
    sd : (row, column) float32
        Standard error over the standard deviation of the values: near 0 a cell is as good as measured, near 1 nothing
        is known but the mean. NaN where blank.
    raster : RasterGrid
        Where the cells are.
    """
    name = "standard error of the interpolation over the standard deviation of the values"
    write_cog(path, sd[None], raster, band_names=[name], tags={"QUANTITY": name})


def window_tags(window: Window) -> dict[str, float]:
    """Return the span of a slice as metadata items, metres and nanoseconds; a level slice has elevations alone."""
    if window.axis == "elevation":
        upper, lower = window.elevation_m
        return {"ELEVATION_TOP_M": upper, "ELEVATION_BASE_M": lower}
    return {
        "WINDOW_TOP_M": window.top_m,
        "WINDOW_BASE_M": window.base_m,
        "WINDOW_TOP_NS": window.top_ns,
        "WINDOW_BASE_NS": window.base_ns,
    }


def velocity_tags(velocity: VelocityModel) -> dict[str, float]:
    """Return the mean velocity to 1 m and its standard deviation as metadata items, metres per nanosecond."""
    return {
        "VELOCITY_M_PER_NS": velocity.mean_m_per_ns(),
        "VELOCITY_SD_M_PER_NS": velocity.sd_m_per_ns,
    }


def _band_name(window: Window) -> str:
    if window.axis == "elevation":
        return f"elevation {window.label}"
    return f"{'depth' if window.axis == 'depth' else 'two-way time'} {window.label}"


def _texts(items: Mapping[str, object]) -> dict[str, str]:
    """Write numbers to six decimals and the rest as text; sorted, so that bytes do not depend on order."""
    return {
        key: str(round(float(item), 6)) if isinstance(item, float | np.floating) else str(item)
        for key, item in sorted(items.items())
    }
