"""The volume on disk: a Zarr v3 group that `xarray.open_zarr` reads; the one disk access among number rooms.

One store holds one volume, so the depth volume of a run opens at the root of its store; a time volume gets a
store of its own. Chunks are at most 32 x 128 x 128: of 256 x 401 x 401 samples a depth slice then reads 1/8
and a vertical section 1/4, both in about 20 ms. Sides are split evenly, so that no chunk is mostly padding.
"""

from __future__ import annotations

import json
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import zarr
from zarr.codecs import BloscCodec

from gridmap._version import VERSION
from gridmap.errors import OurFaultError, OutputError, ReadError
from gridmap.files import whole_folder
from gridmap.model import IDENTITY, Float64, Grid, Similarity, Volume

_CHUNK_TARGET = (32, 128, 128)
_AXES: dict[str, tuple[str, dict[str, str]]] = {
    "depth": (
        "z",
        {
            "standard_name": "depth",
            "long_name": "depth below the ground surface",
            "units": "m",
            "positive": "down",
            "axis": "Z",
        },
    ),
    "time": (
        "t",
        {"long_name": "two-way time from time zero", "units": "ns", "positive": "down", "axis": "Z"},
    ),
}


def chunk_shape(shape: tuple[int, ...]) -> tuple[int, ...]:
    """Split each side evenly into pieces no longer than 32, 128 and 128."""
    return tuple(-(-side // -(-side // target)) for side, target in zip(shape, _CHUNK_TARGET, strict=True))


def write_volume(
    folder: Path,
    volume: Volume,
    transform: Similarity = IDENTITY,
    crs_wkt: str | None = None,
    attrs: Mapping[str, Any] | None = None,
) -> None:
    """Write a volume as a Zarr v3 group with CF-style metadata, whole or not at all.

    Parameters
    ----------
    folder : Path
        The store, such as OUT/volume.zarr; an earlier one is replaced.
    volume : Volume
        Values over (z, y, x) or (t, y, x), NaN where blank.
    transform : Similarity
        Takes local x, y to the map; goes into the attributes of `spatial_ref`.
    crs_wkt : str or None
        The map's CRS as WKT 2; None where the map is the local grid.
    attrs : mapping or None
        Further attributes of the group: text, finite numbers, lists of these.

    Raises
    ------
    OurFaultError
        If the values do not fit the grid, or an attribute has no strict JSON form.
    OutputError
        If the folder cannot be written.

    Notes
    -----
    Variables: `amplitude`; `ground_elevation` over (y, x) where the ground is known;
    co-ordinates `z` or `t`, `y`, `x` (local grid); `spatial_ref`, a scalar whose
    attributes hold `crs_wkt`, `GeoTransform` (six numbers in GDAL's order, corner of the first cell, turned
    with the grid) and the similarity. `amplitude` names `spatial_ref` as its CF `grid_mapping` only where x
    and y are map co-ordinates themselves; elsewhere it would put the local grid at a wrong place on the map.
    """
    grid = volume.grid
    if volume.values.ndim != 3 or volume.values.shape[1:] != grid.shape or 0 in volume.values.shape:
        raise OurFaultError(
            f"{folder.name}: values have shape {volume.values.shape}, the grid is {grid.shape}"
        )
    name, axis_attrs = _AXES[volume.axis]
    on_map = crs_wkt is not None and transform == IDENTITY
    group_attrs = {
        "Conventions": "CF-1.11",
        "source": f"gridmap {VERSION}",
        "axis": volume.axis,
        "first": volume.first,
        "step": volume.step,
        "x_first_m": grid.x_first_m,
        "y_first_m": grid.y_first_m,
        "cell_m": grid.cell_m,
        "quantity": volume.quantity,
        **(attrs or {}),
    }
    amplitude_attrs = {"long_name": volume.quantity, "units": "1"}
    if on_map:
        amplitude_attrs["grid_mapping"] = "spatial_ref"
    try:
        with whole_folder(folder) as temporary:
            group = zarr.open_group(temporary, mode="w", zarr_format=3)
            group.attrs.update(_strict(group_attrs, folder))
            amplitude = group.create_array(
                "amplitude",
                shape=volume.values.shape,
                dtype="float32",
                chunks=chunk_shape(volume.values.shape),
                compressors=BloscCodec(cname="zstd", clevel=3, shuffle="shuffle"),
                fill_value=float("nan"),
                dimension_names=(name, "y", "x"),
                attributes=amplitude_attrs,
            )
            amplitude[...] = volume.values
            _write_axis(group, name, volume.axis_values(), axis_attrs)
            _write_axis(group, "y", grid.y_m(), _ground_axis("y", on_map))
            _write_axis(group, "x", grid.x_m(), _ground_axis("x", on_map))
            if volume.ground_m is not None:
                _write_ground(group, volume.ground_m)
            group.create_array(
                "spatial_ref",
                shape=(),
                dtype="int32",
                dimension_names=(),
                attributes=spatial_ref_attrs(grid, transform, crs_wkt),
            )
            with warnings.catch_warnings():
                # zarr warns that Zarr v3 does not specify this yet; xarray opens slower and warns without it.
                warnings.filterwarnings("ignore", message="Consolidated metadata")
                zarr.consolidate_metadata(group.store)
    except OSError as problem:
        reason = problem.strerror or problem
        raise OutputError(
            f"{folder.name}: cannot be written ({reason}); check the folder and the free space"
        ) from problem


def read_volume(folder: Path) -> Volume:
    """Read a whole volume back.

    Parameters
    ----------
    folder : Path
        A store that `write_volume` wrote.

    Returns
    -------
    Volume
        Equal to what was written, to the bit.

    Raises
    ------
    ReadError
        If there is no such store, or it lacks what `write_volume` puts there.
    """
    try:
        group = zarr.open_group(folder, mode="r", zarr_format=3)
        known: dict[str, Any] = dict(group.attrs)
        values = np.asarray(group["amplitude"][...])
        rows, columns = values.shape[1:]
        grid = Grid(
            float(known["x_first_m"]), float(known["y_first_m"]), float(known["cell_m"]), rows, columns
        )
        axis = known["axis"]
        if axis not in _AXES:
            raise ValueError(axis)
        ground = np.asarray(group["ground_elevation"][...]) if "ground_elevation" in group else None
        return Volume(
            values, grid, axis, float(known["first"]), float(known["step"]), str(known["quantity"]), ground
        )
    except (OSError, KeyError, ValueError, TypeError) as problem:
        raise ReadError(
            f"{folder.name}: not a volume that gridmap wrote ({type(problem).__name__}: "
            f"{' '.join(str(problem).split())}); run the job again"
        ) from problem


def geo_transform(grid: Grid, transform: Similarity) -> tuple[float, float, float, float, float, float]:
    """Return the affine of the volume's cells on the map in GDAL's order.

    Returns
    -------
    six floats (c, a, b, f, d, e)
        E = c + a col + b row and N = f + d col + e row, where (col, row) = (0, 0) is the outer corner of cell
        (0, 0) and rows run along local y.
    """
    half = 0.5 * grid.cell_m
    corner = transform.to_map(np.array([grid.x_first_m - half, grid.y_first_m - half]))
    along, turned = transform.a * grid.cell_m, transform.b * grid.cell_m
    return float(corner[0]), along, -turned, float(corner[1]), turned, along


def spatial_ref_attrs(grid: Grid, transform: Similarity, crs_wkt: str | None) -> dict[str, Any]:
    """Return the attributes of `spatial_ref`: CRS, affine and similarity."""
    known: dict[str, Any] = {
        "long_name": "from the local grid to the map",
        "GeoTransform": " ".join(repr(number) for number in geo_transform(grid, transform)),
        "similarity": "E = e0_m + a x - b y; N = n0_m + b x + a y",
        "e0_m": transform.e0_m,
        "n0_m": transform.n0_m,
        "a": transform.a,
        "b": transform.b,
        "scale": transform.scale,
        "rotation_deg": transform.rotation_deg,
    }
    if crs_wkt is not None:
        known |= {"crs_wkt": crs_wkt, "spatial_ref": crs_wkt}
    return known


def _ground_axis(name: str, on_map: bool) -> dict[str, str]:
    if on_map:
        words = {"x": "easting", "y": "northing"}[name]
        return {
            "standard_name": f"projection_{name}_coordinate",
            "long_name": words,
            "units": "m",
            "axis": name.upper(),
        }
    words = {"x": "along the baseline", "y": "across the baseline"}[name]
    return {"long_name": f"local grid {name}, {words}", "units": "m", "axis": name.upper()}


def _write_ground(group: Any, ground_m: Float64) -> None:
    """Write the elevation that depths are counted from; above what, the heights of the site file say."""
    array = group.create_array(
        "ground_elevation",
        shape=ground_m.shape,
        dtype="float64",
        chunks=ground_m.shape,
        compressors=BloscCodec(cname="zstd", clevel=3, shuffle="shuffle"),
        fill_value=float("nan"),
        dimension_names=("y", "x"),
        attributes={"long_name": "elevation of the ground surface", "units": "m", "positive": "up"},
    )
    array[...] = ground_m


def _write_axis(group: Any, name: str, values: Float64, attrs: Mapping[str, str]) -> None:
    array = group.create_array(
        name,
        shape=values.shape,
        dtype="float64",
        chunks=values.shape,
        compressors=None,
        fill_value=float("nan"),
        dimension_names=(name,),
        attributes=dict(attrs),
    )
    array[...] = values


def _strict(attrs: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    try:
        return dict(json.loads(json.dumps(attrs, allow_nan=False)))
    except (TypeError, ValueError) as problem:
        raise OurFaultError(f"{folder.name}: attributes are no strict JSON ({problem})") from problem
