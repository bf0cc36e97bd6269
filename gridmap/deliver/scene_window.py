"""The scene in a window of its own, with a slider for depth; pictures and turntables of it without a window.

Pictures are drawn in a process of their own, as in `scene_view`: `python -m gridmap.deliver.scene_window ORDER.json`.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Collection, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from gridmap.deliver import drawing
from gridmap.deliver.caution import CAUTION_SHORT
from gridmap.deliver.pictures import write_picture
from gridmap.deliver.scene_view import VIEW_SIZE_PX, add_slice, fill, look
from gridmap.deliver.strict_json import to_text
from gridmap.errors import InputError, OutputError
from gridmap.files import whole_file

TURNTABLE_PX = (900, 600)
FRAMES, FRAME_MS = 48, 100
ENDINGS = (".gif", ".png", ".mp4")
"""What a turntable can be: GIF and animated PNG always, MP4 where the package imageio-ffmpeg is there."""
_TIMEOUT_S = 540.0


class DepthSlider:
    """Shows the slice whose middle lies nearest to a depth.

    Parameters
    ----------
    plotter : pyvista.Plotter
        Filled.
    slices : pyvista.MultiBlock
        From the top down.
    middles_m : sequence of float
        Depth, or elevation, of the middle of each.
    colour_range : (float, float)
        One scale for all.
    """

    def __init__(
        self, plotter: Any, slices: Any, middles_m: Sequence[float], colour_range: tuple[float, float]
    ) -> None:
        self._plotter, self._slices, self._scale = plotter, slices, colour_range
        self.middles_m = np.asarray(middles_m, dtype=float)
        self.shown = -1

    @property
    def at_m(self) -> float:
        """Middle of the slice shown."""
        return float(self.middles_m[self.shown])

    def show(self, at_m: float) -> None:
        """Show the slice at a depth; nothing is drawn anew where it is shown already."""
        nearest = int(np.argmin(np.abs(self.middles_m - at_m)))
        if nearest != self.shown:
            self.shown = nearest
            add_slice(self._plotter, self._slices[nearest], self._scale)


def open_window(
    vtm: Path,
    *,
    title: str,
    colour_range: tuple[float, float],
    hidden: Collection[str] = (),
    at_m: float | None = None,
) -> None:
    """Open the window and wait until it is closed.

    Raises
    ------
    InputError
        If there is no display to open it on.
    """
    lacking = no_display()
    if lacking:
        raise InputError(
            f"{lacking} Draw a picture without one: gridmap view OUT --picture scene.png, or open index.html in a"
            " browser."
        )
    import pyvista as pv

    plotter, slider = assemble(pv.Plotter(window_size=list(VIEW_SIZE_PX), title=f"gridmap: {title}"), vtm,
                               colour_range, hidden, at_m)  # fmt: skip
    names = pv.read(vtm)["slices"].keys()
    word = "Elevation, m" if names and "elevation" in names[0] else "Depth, m"
    if slider is not None:
        ends = sorted((float(slider.middles_m[0]), float(slider.middles_m[-1])))
        plotter.add_slider_widget(
            slider.show, ends, value=slider.at_m, title=word, color="#1c242a",
            pointa=(0.03, 0.1), pointb=(0.33, 0.1), interaction_event="always",
        )  # fmt: skip
    plotter.add_text(title, font_size=12, color="#1c242a", position="upper_left")
    plotter.add_text(CAUTION_SHORT, font_size=8, color="#5c6770", position=(10, 6))
    plotter.add_key_event("r", lambda: look(plotter, pv.read(vtm)))
    plotter.show()


def no_display() -> str:
    """Say why no window can be opened; empty where one can."""
    if sys.platform.startswith("linux") and not (
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    ):
        return "There is no display here to open a window on (DISPLAY is not set)."
    return ""


def assemble(
    plotter: Any, vtm: Path, colour_range: tuple[float, float], hidden: Collection[str], at_m: float | None
) -> tuple[Any, DepthSlider | None]:
    """Fill a plotter with the scene and one slice: at a depth, else the deepest, over which everything stands."""
    import pyvista as pv

    blocks = pv.read(vtm)
    fill(plotter, blocks, hidden)
    names = list(blocks["slices"].keys())
    slider = None
    if names:
        slider = DepthSlider(plotter, blocks["slices"], middles(names), colour_range)
        slider.show(float(slider.middles_m[-1]) if at_m is None else at_m)
    look(plotter, blocks)
    return plotter, slider


def middles(names: Sequence[str]) -> list[float]:
    """Middle of each slice from its name, such as "slice 0.40 to 0.50 m"."""
    found = []
    for name in names:
        numbers = [
            float(part)
            for part in name.replace("elevation", "").split()
            if part.replace(".", "").replace("-", "").isdigit()
        ]
        found.append(float(np.mean(numbers)) if numbers else float("nan"))
    return found


def draw_still(vtm: Path, out: Path, *, title: str, note: str, order: dict[str, Any]) -> None:
    """Draw one picture with title and caution; `order` as `_work` reads it."""
    with tempfile.TemporaryDirectory() as folder:
        (frame,) = _drawn(vtm, Path(folder), {**order, "frames": 1, "size": list(VIEW_SIZE_PX)})
        write_picture(out, framed(frame, title, note))


def draw_turntable(vtm: Path, out: Path, *, title: str, note: str, order: dict[str, Any]) -> None:
    """Draw the scene from all sides as GIF, animated PNG or MP4, whole or not at all.

    Raises
    ------
    InputError
        If the ending is none of these, or MP4 is asked for and its encoder is not there.
    OutputError
        If nothing could be drawn.
    """
    ending = out.suffix.lower()
    if ending not in ENDINGS:
        raise InputError(f"{out.name}: a turntable ends in {', '.join(ENDINGS)}.")
    if ending == ".mp4" and (find_spec("imageio") is None or find_spec("imageio_ffmpeg") is None):
        raise InputError(
            f"{out.name}: MP4 needs the packages imageio and imageio-ffmpeg (pip install imageio imageio-ffmpeg);"
            " .gif and .png (animated) need nothing more."
        )
    with tempfile.TemporaryDirectory() as folder:
        views = _drawn(vtm, Path(folder), {**order, "frames": FRAMES, "size": list(TURNTABLE_PX)})
        frames = [framed(view, title, note, small=True) for view in views]
    with whole_file(out) as part:
        if ending == ".mp4":
            import imageio.v2 as imageio

            with imageio.get_writer(part, fps=1000 / FRAME_MS, macro_block_size=2) as film:
                for frame in frames:
                    film.append_data(
                        np.asarray(frame.crop((0, 0, frame.width // 2 * 2, frame.height // 2 * 2)))
                    )
        else:
            first, *rest = [f.quantize(128) for f in frames] if ending == ".gif" else frames
            first.save(
                part, save_all=True, append_images=rest, duration=FRAME_MS, loop=0, format=ending[1:].upper()
            )


def framed(view: Image.Image, title: str, note: str, *, small: bool = False) -> Image.Image:
    """Put title and caution around a view."""
    size = 12 if small else 15
    head = 76 if small else 90
    image = Image.new(
        "RGB",
        (view.width, view.height + head + drawing.caution_height(view.width, size_px=size)),
        drawing.PAPER,
    )
    drawing.title_lines(ImageDraw.Draw(image), title, note, image.width)
    image.paste(view, (0, head))
    drawing.caution_strip(image, size_px=size)
    return image


def _drawn(vtm: Path, folder: Path, order: dict[str, Any]) -> list[Image.Image]:
    """Have the frames drawn in a process of its own, which may end without harm."""
    said = folder / "order.json"
    said.write_text(
        to_text({**order, "vtm": vtm.resolve().as_posix(), "out": folder.as_posix()}), encoding="utf-8"
    )
    command = [sys.executable, "-m", "gridmap.deliver.scene_window", str(said)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=_TIMEOUT_S, check=False)
    except (OSError, subprocess.TimeoutExpired) as problem:
        raise OutputError(
            f"{vtm}: cannot be drawn on this machine ({problem}). Open scene.glb elsewhere."
        ) from problem
    names = sorted(folder.glob("frame_*.png"))
    if done.returncode != 0 or len(names) != order["frames"]:
        last = done.stderr.strip().splitlines()[-1:] or [
            f"the drawing process ended with code {done.returncode}"
        ]
        raise OutputError(
            f"{vtm}: cannot be drawn on this machine ({last[0][:200]}). Open scene.glb elsewhere."
        )
    frames = []
    for name in names:
        with Image.open(name) as view:
            frames.append(view.convert("RGB"))
    return frames


def _work(order: dict[str, Any]) -> None:
    import pyvista as pv

    plotter = pv.Plotter(off_screen=True, window_size=order["size"])
    low, high = order["colour_range"]
    assemble(plotter, Path(order["vtm"]), (low, high), order["hidden"], order["at_m"])
    plotter.enable_anti_aliasing("ssaa")
    for k in range(order["frames"]):
        plotter.screenshot(str(Path(order["out"]) / f"frame_{k:04d}.png"))
        plotter.camera.Azimuth(360.0 / order["frames"])
        plotter.renderer.ResetCameraClippingRange()
        plotter.render()
    plotter.close()


if __name__ == "__main__":
    _work(json.loads(Path(sys.argv[1]).read_text(encoding="utf-8")))
