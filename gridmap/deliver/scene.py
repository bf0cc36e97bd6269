"""The 3D scene: `scene.glb` for any viewer and `scene.vtm` for scientific ones."""

from __future__ import annotations

from pathlib import Path

from gridmap.deliver.scene_build import Scene, build_scene
from gridmap.deliver.scene_glb import glb_bytes
from gridmap.deliver.scene_view import draw_scene
from gridmap.deliver.scene_vtm import write_vtm
from gridmap.files import whole_file

__all__ = ["Scene", "build_scene", "draw_scene", "write_scene"]


def write_scene(folder: Path, scene: Scene) -> list[Path]:
    """Write `scene.glb`, `scene.vtm` and the folder `scene/` that the latter names.

    Parameters
    ----------
    folder : Path
        Must exist; older files of these names are replaced.
    scene : Scene
        From `build_scene`.

    Returns
    -------
    list of Path
        The two files to open.
    """
    glb, vtm = folder / "scene.glb", folder / "scene.vtm"
    with whole_file(glb) as temporary:
        temporary.write_bytes(glb_bytes(scene))
    write_vtm(vtm, scene)
    return [glb, vtm]
