"""A picture of the scene, drawn off-screen in a process of its own.

Drawing needs a graphics library that may be missing or may end the process; the job must not end with it.
Run as a program: `python -m gridmap.deliver.scene_view SCENE.vtm OUT.png LOW HIGH`.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Collection
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from gridmap.deliver import drawing
from gridmap.deliver.pictures import write_picture

VIEW_SIZE_PX = (1400, 860)
_TIMEOUT_S = 120.0


def draw_scene(
    vtm: Path,
    out: Path,
    *,
    colour_range: tuple[float, float],
    title: str,
    note: str = "",
    timeout_s: float = _TIMEOUT_S,
) -> str | None:
    """Draw `scene.vtm` from the south-west and above, with title and caution.

    Parameters
    ----------
    vtm : Path
        From `scene.write_scene`.
    out : Path
        The PNG; written whole or not at all.
    colour_range : (float, float)
        Scale of the slice that is shown.
    title : str
        The site's name.
    note : str
        Second line; what the surfaces stand for.
    timeout_s : float
        Give up after this many seconds.

    Returns
    -------
    str or None
        None where the picture was drawn; else why not, for a warning.
    """
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder) / "view.png"
        low, high = colour_range
        command = [
            sys.executable,
            "-m",
            "gridmap.deliver.scene_view",
            str(vtm.resolve()),
            str(raw),
            repr(low),
            repr(high),
        ]
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=timeout_s, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            return f"3D picture not drawn: {_one_line(str(error))}; scene.glb and scene.vtm are whole"
        if done.returncode != 0 or not raw.exists():
            words = _last_line(done.stderr) or f"the drawing process ended with code {done.returncode}"
            return f"3D picture not drawn: {words}; scene.glb and scene.vtm are whole"
        with Image.open(raw) as view:
            write_picture(out, _framed(view.convert("RGB"), title, note))
    return None


def _framed(view: Image.Image, title: str, note: str) -> Image.Image:
    image = Image.new(
        "RGB", (view.width, view.height + 90 + drawing.caution_height(view.width)), drawing.PAPER
    )
    drawing.title_lines(ImageDraw.Draw(image), title, note, image.width)
    image.paste(view, (0, 90))
    drawing.caution_strip(image)
    return image


def _last_line(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return _one_line(lines[-1]) if lines else ""


def _one_line(text: str) -> str:
    return " ".join(text.split())[:300]


def _render(vtm: Path, out: Path, colour_range: tuple[float, float]) -> None:
    """Draw the blocks of the file; raises whatever the graphics library raises."""
    import pyvista as pv

    blocks = pv.read(vtm)
    plotter = pv.Plotter(off_screen=True, window_size=list(VIEW_SIZE_PX))
    fill(plotter, blocks)
    slices = blocks["slices"]
    if slices.n_blocks:
        add_slice(plotter, slices[slices.n_blocks - 1], colour_range)
    look(plotter, blocks)
    plotter.enable_anti_aliasing("ssaa")
    plotter.screenshot(str(out))
    plotter.close()


def fill(plotter: Any, blocks: Any, hidden: Collection[str] = ()) -> None:
    """Put all but the slices into a plotter: surface of strong echoes, features, lines walked, edge, floor, north.

    Parameters
    ----------
    plotter : pyvista.Plotter
        Empty.
    blocks : pyvista.MultiBlock
        From `scene_vtm`.
    hidden : collection of str
        Names of features that are left out, such as "feature L2".
    """
    import pyvista as pv

    plotter.set_background("white")
    surfaces = [surface for surface in blocks["iso-surfaces"] if surface is not None and surface.n_cells]
    if surfaces:
        # The outermost alone; layers of transparency are peeled, or it would hide what it holds.
        plotter.add_mesh(
            surfaces[0], color=[201, 162, 39], opacity=0.45, smooth_shading=False, name="surface"
        )
        plotter.enable_depth_peeling(6)
    if "features" in blocks.keys():  # noqa: SIM118 - a MultiBlock iterates over blocks
        for name in blocks["features"].keys():  # noqa: SIM118
            if name not in hidden:
                solid = blocks["features"][name]
                colour = [int(c) for c in solid.field_data["colour"]]
                plotter.add_mesh(solid, color=colour, smooth_shading=False, name=name)
    ground = blocks["ground"]
    if "lines walked" in ground.keys():  # noqa: SIM118
        plotter.add_mesh(ground["lines walked"], color=[70, 78, 86], line_width=1, opacity=0.6)
    if "ground surface" in ground.keys():  # noqa: SIM118
        plotter.add_mesh(ground["ground surface"], color=[150, 158, 140], opacity=0.15)
    edge = ground["edge of the grid"]
    plotter.add_mesh(edge, color=[176, 28, 92], line_width=3)
    bounds = blocks.bounds
    for corner in edge.points[:-1][:: (len(edge.points) - 1) // 4]:
        plotter.add_mesh(pv.Line(corner, (*corner[:2], bounds[4])), color=[150, 158, 164], line_width=1)
    floor = edge.copy()
    floor.points[:, 2] = bounds[4]
    plotter.add_mesh(floor, color=[150, 158, 164], line_width=1)
    _north(plotter, bounds, float(np.mean(edge.points[:, 2])))


def add_slice(plotter: Any, block: Any, colour_range: tuple[float, float]) -> None:
    """Show one slice in place of the one shown before; its blank cells are hidden in the data."""
    plotter.add_mesh(
        block,
        scalars="value",
        clim=colour_range,
        cmap="cividis",
        show_scalar_bar=False,
        lighting=False,
        name="slice",
        reset_camera=False,
    )


def look(plotter: Any, blocks: Any) -> None:
    """Look from the south-west and above at the whole."""
    edge = blocks["ground"]["edge of the grid"]
    plotter.camera_position = [(-0.62, -1.0, 0.85), (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)]
    plotter.reset_camera(bounds=blocks.bounds)
    plotter.camera.zoom(1.25 if np.ptp(edge.points[:, 2]) < 0.01 else 1.0)


def _north(plotter: object, bounds: tuple[float, ...], up: float) -> None:
    """Lay an arrow and a scale bar on the ground, east of the site and along its south side."""
    import pyvista as pv

    west, east, south, north = (float(v) for v in bounds[:4])
    span = max(east - west, north - south)
    at = (east + 0.06 * span, south + 0.1 * span, up)
    arrow = pv.Arrow(
        start=at, direction=(0.0, 1.0, 0.0), scale=0.16 * span, shaft_radius=0.03, tip_radius=0.09
    )
    plotter.add_mesh(arrow, color=list(drawing.INK))  # type: ignore[attr-defined]
    step = drawing.round_step(span, 5)
    y = south - 0.12 * span
    bar = pv.Line((west, y, up), (west + step, y, up))
    plotter.add_mesh(bar, color=list(drawing.INK), line_width=6)  # type: ignore[attr-defined]
    labels = {"N": (at[0], at[1] + 0.2 * span, up), f"{step:g} m": (west + 0.5 * step, y - 0.04 * span, up)}
    plotter.add_point_labels(  # type: ignore[attr-defined]
        list(labels.values()),
        list(labels),
        font_size=22,
        shape=None,
        show_points=False,
        always_visible=True,
        text_color=list(drawing.INK),
    )


if __name__ == "__main__":
    _render(Path(sys.argv[1]), Path(sys.argv[2]), (float(sys.argv[3]), float(sys.argv[4])))
