"""The scene as one glTF 2.0 binary: +Y up, metres, a small local origin (Khronos glTF 2.0, section 3.4)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray
from PIL import Image
from trimesh.exchange.gltf import export_glb
from trimesh.visual.material import PBRMaterial

from gridmap.deliver.colours import table, to_index
from gridmap.deliver.plot_area import coarser
from gridmap.deliver.scene_build import Scene, slice_name, surface_name
from gridmap.deliver.scene_features import Solid
from gridmap.deliver.scene_ground import SIDE, mesh_places, mesh_triangles
from gridmap.model import Float32, Float64, Window

_LINE_RGBA = (70, 78, 86, 255)
_EDGE_RGBA = (176, 28, 92, 255)
_GROUND_RGBA = [150, 158, 140, 70]
_MOST_TEXELS = 5_000_000
_NEAREST, _CLAMP = 9728, 33071
_LEAST_OPAQUE, _MOST_OPAQUE = 25.0, 235.0


def y_up(points_m: Float64) -> Float64:
    """Take (..., 3) east, north, up to glTF's axes: x = east, y = up, z = minus north."""
    return np.stack([points_m[..., 0], points_m[..., 2], -points_m[..., 1]], axis=-1)


def glb_bytes(scene: Scene) -> bytes:
    """Put the scene into one glTF binary.

    Parameters
    ----------
    scene : Scene
        From `scene_build.build_scene`.

    Returns
    -------
    bytes
        The same scene gives the same bytes. Each slice is one textured sheet at the middle of its window, seen
        from both sides; strong values are opaque, weak ones faint, blank cells left out. Names of nodes are
        those of the slices and surfaces; `scene.about` stands in the scene's extras.
    """
    world = trimesh.Scene(metadata=scene.about)
    for values, window in zip(scene.slices, scene.windows, strict=True):
        _add(world, slice_name(window), _sheet(scene, values, window))
    for k, (level, surface) in enumerate(zip(scene.levels, scene.surfaces, strict=True)):
        if len(surface.triangles):
            mesh = trimesh.Trimesh(y_up(surface.points_m), surface.triangles, process=False)
            mesh.visual = trimesh.visual.TextureVisuals(material=_surface_material(k, len(scene.levels)))
            _add(world, surface_name(level), mesh)
    for solid in scene.solids:
        _add(world, solid.name, _solid(solid))
    if scene.frame.ground is not None:
        _add(world, "ground surface", _ground(scene))
    if scene.lines_m:
        _add(world, "lines walked", _paths(scene.lines_m, _LINE_RGBA))
    _add(
        world,
        "edge of the grid",
        _paths([np.vstack([scene.ground_m, scene.ground_m[:1]])], _EDGE_RGBA),
    )
    return bytes(export_glb(world, include_normals=True, tree_postprocessor=_finish))


def slice_rgba(values: Float32, colour_range: tuple[float, float]) -> NDArray[np.uint8]:
    """Colour a slice, (row, column, 4) uint8 with row 0 in the far y; opacity grows with the value."""
    index = to_index(values, colour_range)[::-1]
    blank = np.isnan(values)[::-1]
    alpha = _LEAST_OPAQUE + (_MOST_OPAQUE - _LEAST_OPAQUE) * index / 255.0
    alpha = np.where(blank, 0.0, alpha).astype(np.uint8)
    return np.dstack([table("cividis")[index], alpha])


def _add(world: trimesh.Scene, name: str, geometry: Any) -> None:
    world.add_geometry(geometry, geom_name=name, node_name=name)


def _ground(scene: Scene) -> trimesh.Trimesh:
    """Mesh the ground, faint, so that what hangs below it shows."""
    places = mesh_places(scene.grid)
    points = scene.frame.to_scene(places, 0.0).reshape(-1, 3)
    mesh = trimesh.Trimesh(y_up(points), mesh_triangles(*places.shape[:2]), process=False)
    material = PBRMaterial(
        name="ground surface",
        baseColorFactor=_GROUND_RGBA,
        alphaMode="BLEND",
        doubleSided=True,
        metallicFactor=0.0,
        roughnessFactor=1.0,
    )
    mesh.visual = trimesh.visual.TextureVisuals(material=material)
    return mesh


def _solid(solid: Solid) -> trimesh.Trimesh:
    """Mesh one feature, opaque, with what is known of it in its extras."""
    mesh = trimesh.Trimesh(
        y_up(solid.surface.points_m), solid.surface.triangles, process=False, metadata=dict(solid.about)
    )
    material = PBRMaterial(
        name=solid.name,
        baseColorFactor=[*solid.colour, 255],
        alphaMode="OPAQUE",
        doubleSided=False,
        metallicFactor=0.0,
        roughnessFactor=0.7,
    )
    mesh.visual = trimesh.visual.TextureVisuals(material=material)
    return mesh


def _sheet(scene: Scene, values: Float32, window: Window) -> trimesh.Trimesh:
    """One slice as a textured sheet: a single quad, or a mesh draped below the ground."""
    name = slice_name(window)
    places = mesh_places(scene.grid, SIDE if scene.frame.draped(window) else 1)
    points = scene.frame.window_points(places, window).reshape(-1, 3)
    factor = math.ceil(math.sqrt(scene.slices.size / _MOST_TEXELS))
    picture = Image.fromarray(slice_rgba(coarser(values, factor), scene.colour_range))
    material = PBRMaterial(
        name=name,
        baseColorTexture=picture,
        alphaMode="BLEND",
        doubleSided=True,
        metallicFactor=0.0,
        roughnessFactor=1.0,
    )
    mesh = trimesh.Trimesh(y_up(points), mesh_triangles(*places.shape[:2]), process=False)
    # Joined cells that do not divide evenly leave a rest on the right and at the far end: stay short of it.
    reach = np.array(values.shape[::-1]) / (np.ceil(np.array(values.shape[::-1]) / factor) * factor)
    share = np.meshgrid(np.linspace(0, 1, places.shape[1]), np.linspace(0, 1, places.shape[0]))
    uv = np.stack(share, axis=-1).reshape(-1, 2) * reach
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv, material=material)
    return mesh


def _surface_material(k: int, count: int) -> PBRMaterial:
    inner = k == count - 1
    colour = table("cividis")[250 if inner else 150]
    return PBRMaterial(
        name="iso-surface, strongest" if inner else "iso-surface, weaker",
        baseColorFactor=[*(int(c) for c in colour), 255 if inner else 110],
        alphaMode="OPAQUE" if inner else "BLEND",
        doubleSided=True,
        metallicFactor=0.0,
        roughnessFactor=0.8,
    )


def _paths(paths_m: Sequence[Float64], rgba: tuple[int, int, int, int]) -> trimesh.path.Path3D:
    """Join paths into one node of line segments."""
    segments = np.concatenate([np.stack([path[:-1], path[1:]], axis=1) for path in paths_m])
    path = trimesh.load_path(y_up(segments))
    path.colors = np.tile(np.array(rgba, dtype=np.uint8), (len(path.entities), 1))
    return path


def _finish(tree: dict[str, Any]) -> None:
    """Name ourselves; show slices unlit and cell by cell, so that colours are the table's."""
    tree["asset"]["generator"] = "gridmap"
    tree["asset"]["extras"] = tree["scenes"][0].get("extras", {})
    tree["scenes"][0]["name"] = "gridmap scene"
    if not tree.get("textures"):
        return
    tree["samplers"] = [{"magFilter": _NEAREST, "minFilter": _NEAREST, "wrapS": _CLAMP, "wrapT": _CLAMP}]
    for texture in tree["textures"]:
        texture["sampler"] = 0
    for material in tree["materials"]:
        if "baseColorTexture" in material.get("pbrMetallicRoughness", {}):
            material["extensions"] = {"KHR_materials_unlit": {}}
    tree["extensionsUsed"] = sorted({*tree.get("extensionsUsed", []), "KHR_materials_unlit"})
