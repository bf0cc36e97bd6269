"""The scene as a VTK multi-block file with its data in a folder beside it."""

from __future__ import annotations

import math
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pyvista as pv

from gridmap.deliver.plot_area import coarser
from gridmap.deliver.scene_build import Scene, slice_name, surface_name
from gridmap.deliver.scene_ground import mesh_places, mesh_triangles
from gridmap.deliver.strict_json import to_text
from gridmap.model import Float32, Float64, Window

_MOST_DRAPED = 200
_HIDDEN_CELL = 32
"""vtkDataSetAttributes::HIDDENCELL: a cell that is not drawn."""


def multi_block(scene: Scene) -> pv.MultiBlock:
    """Gather the scene for VTK: east, north, up from the origin that the field data name.

    Parameters
    ----------
    scene : Scene
        From `scene_build.build_scene`.

    Returns
    -------
    MultiBlock
        Blocks "slices" (cell data `value`; blank cells NaN and hidden), "iso-surfaces", "features" (tubes and
        solids; field data `colour`, and `about` as JSON) and "ground": the
        lines walked (cell data `number`, from 1 in the order given) and the edge of the grid.
    """
    slices, surfaces = pv.MultiBlock(), pv.MultiBlock()
    for values, window in zip(scene.slices, scene.windows, strict=True):
        draw = _draped if scene.frame.draped(window) else _plane
        slices.append(draw(scene, values, window), slice_name(window))
    for level, surface in zip(scene.levels, scene.surfaces, strict=True):
        faces = np.column_stack([np.full(len(surface.triangles), 3), surface.triangles]).reshape(-1)
        mesh = pv.PolyData(surface.points_m.astype(np.float32), faces) if len(faces) else pv.PolyData()
        mesh.field_data["level"] = [level]
        surfaces.append(mesh, surface_name(level))
    features = pv.MultiBlock()
    for solid in scene.solids:
        triangles = solid.surface.triangles
        faces = np.column_stack([np.full(len(triangles), 3), triangles]).reshape(-1)
        mesh = pv.PolyData(solid.surface.points_m.astype(np.float32), faces)
        mesh.field_data["colour"] = list(solid.colour)
        mesh.field_data["about"] = [to_text(solid.about, indent=None).strip()]
        features.append(mesh, solid.name)
    ground = pv.MultiBlock()
    if scene.frame.ground is not None:
        ground.append(_ground(scene), "ground surface")
    if scene.lines_m:
        ground.append(_polylines(scene.lines_m), "lines walked")
    ground.append(_polylines([np.vstack([scene.ground_m, scene.ground_m[:1]])]), "edge of the grid")
    whole = pv.MultiBlock()
    for part, name in (
        (slices, "slices"),
        (surfaces, "iso-surfaces"),
        (features, "features"),
        (ground, "ground"),
    ):
        whole.append(part, name)
    for block in (*slices, *surfaces, *features, *ground):
        block.field_data["origin_easting_northing_m"] = list(scene.frame.origin_m)
    return whole


def write_vtm(path: Path, scene: Scene) -> None:
    """Write the multi-block file and the folder of the same stem; both replace older ones at the end.

    Parameters
    ----------
    path : Path
        Ends in ".vtm"; VTK writes the data to a folder beside it, named by its stem.
    scene : Scene
        From `scene_build.build_scene`.
    """
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=f".{path.stem}.") as folder:
        temporary = Path(folder)
        multi_block(scene).save(temporary / path.name)
        data = path.parent / path.stem
        if data.exists():
            shutil.rmtree(data)
        (temporary / path.stem).replace(data)
        (temporary / path.name).replace(path)


def _polylines(paths_m: Sequence[Float64]) -> pv.PolyData:
    """Join paths into one block, a cell each."""
    counts = [len(path) for path in paths_m]
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    cells = np.concatenate([[n, *range(start, start + n)] for n, start in zip(counts, starts, strict=True)])
    block = pv.PolyData()
    block.points = np.vstack(paths_m).astype(np.float32)
    block.lines = cells.astype(np.int64)
    block.cell_data["number"] = np.arange(1, len(paths_m) + 1)
    return block


def _ground(scene: Scene) -> pv.PolyData:
    places = mesh_places(scene.grid)
    triangles = mesh_triangles(*places.shape[:2])
    faces = np.column_stack([np.full(len(triangles), 3), triangles]).reshape(-1)
    return pv.PolyData(scene.frame.to_scene(places, 0.0).reshape(-1, 3).astype(np.float32), faces)


def _draped(scene: Scene, values: Float32, window: Window) -> pv.StructuredGrid:
    """One slice hung below uneven ground; cells are joined until no side has more than `_MOST_DRAPED`."""
    factor = math.ceil(max(values.shape) / _MOST_DRAPED)
    cells = coarser(values, factor)
    grid = scene.grid
    corner = np.array([grid.x_first_m, grid.y_first_m]) - 0.5 * grid.cell_m
    rows, columns = (
        np.minimum(np.arange(n + 1) * factor, most) for n, most in zip(cells.shape, values.shape, strict=True)
    )
    places = np.stack(np.meshgrid(columns, rows), axis=-1) * grid.cell_m + corner
    points = scene.frame.window_points(places, window).astype(np.float32)
    sheet = pv.StructuredGrid(*(points[None, ..., k].transpose(2, 1, 0) for k in range(3)))
    sheet.cell_data["value"] = cells.reshape(-1)
    sheet.cell_data["vtkGhostType"] = np.where(np.isnan(cells), _HIDDEN_CELL, 0).astype(np.uint8).reshape(-1)
    sheet.set_active_scalars("value")
    return sheet


def _plane(scene: Scene, values: Float32, window: Window) -> pv.ImageData:
    """One slice as a turned image: small on disk, since the points need not be written."""
    grid, similarity = scene.grid, scene.frame.transform
    corner = np.array([grid.x_first_m, grid.y_first_m]) - 0.5 * grid.cell_m
    side = grid.cell_m * similarity.scale
    turn = math.radians(similarity.rotation_deg)
    cosine, sine = math.cos(turn), math.sin(turn)
    image = pv.ImageData(dimensions=(grid.columns + 1, grid.rows + 1, 1), spacing=(side, side, 1.0))
    image.origin = tuple(scene.frame.window_points(corner, window))
    image.SetDirectionMatrix(cosine, -sine, 0.0, sine, cosine, 0.0, 0.0, 0.0, 1.0)
    image.cell_data["value"] = values.reshape(-1)
    image.cell_data["vtkGhostType"] = np.where(np.isnan(values), _HIDDEN_CELL, 0).astype(np.uint8).reshape(-1)
    image.set_active_scalars("value")
    return image
