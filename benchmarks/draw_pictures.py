"""Time our slice pictures against one matplotlib figure each, on the same slice, and print milliseconds.

Run: python -m benchmarks.draw_pictures
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import numpy as np
from matplotlib import pyplot as plt

from gridmap.deliver.colours import colour_range
from gridmap.deliver.contact_sheet import contact_sheet
from gridmap.deliver.pictures import draw_on_sheet, slice_sheet, write_picture
from gridmap.deliver.radargram import draw_radargram
from gridmap.deliver.words import velocity_words
from gridmap.model import RasterGrid, SliceStack, VelocityModel
from gridmap.slices.window import depth_windows

CELLS = 401
SLICES = 40


def best_ms(act: Callable[[], object], times: int = 5) -> float:
    """Shortest of several runs, milliseconds."""
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        act()
        seconds.append(time.perf_counter() - start)
    return 1e3 * min(seconds)


def compare_all() -> dict[str, float]:
    """Draw, write and print; milliseconds of each."""
    random = np.random.default_rng(1)
    velocity = VelocityModel.constant(0.1, 0.005, "a benchmark")
    windows = depth_windows(0.05 * (SLICES + 1), 0.1, 0.5, velocity)
    values = random.rayleigh(0.1, (len(windows), CELLS, CELLS)).astype(np.float32)
    values[:, :40, :40] = np.nan
    stack = SliceStack(values, windows, "envelope")
    raster = RasterGrid(0.0, 20.05, 0.05, CELLS, CELLS, None)
    scale = colour_range(values)
    lines = [np.array([[x, 0.0], [x, 20.0]]) for x in np.arange(0.0, 20.01, 0.25)]
    sheet = slice_sheet(
        raster, colour_range=scale, quantity="envelope", title="Benchmark",
        velocity_text=velocity_words(velocity), lines_map=lines,
    )  # fmt: skip
    traces = random.normal(size=(1000, 512)).astype(np.float32)
    along, time_ns = 0.02 * np.arange(1000), 0.15 * np.arange(512)

    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "a.png"

        def ours() -> None:
            write_picture(out, draw_on_sheet(sheet, values[3], windows[3]))

        def figure() -> None:
            shape, axes = plt.subplots(figsize=(12.4, 10.0), dpi=100)
            shown = axes.imshow(
                values[3], extent=(0, 20.05, 0, 20.05), cmap="cividis", vmin=scale[0], vmax=scale[1]
            )
            for line in lines:
                axes.plot(*line.T, color="white", alpha=0.3, linewidth=0.7)
            shape.colorbar(shown)
            axes.set_title(windows[3].label)
            shape.savefig(out)
            plt.close(shape)

        def radargram() -> None:
            drawn = draw_radargram(
                traces, along, time_ns, velocity=velocity, title="Benchmark", gain_note="no gain",
                colour_range=(-3.0, 3.0),
            )  # fmt: skip
            write_picture(out, drawn)

        def sheet_of_all() -> None:
            drawn = contact_sheet(stack, raster, colour_range=scale, title="Benchmark", velocity_text="")
            write_picture(out, drawn)

        found = {}
        for name, act in (
            ("slice picture, drawn and written", ours),
            ("matplotlib figure of the same slice", figure),
            ("radargram of 1000 traces", radargram),
            (f"contact sheet of {len(windows)} slices", sheet_of_all),
        ):
            found[name] = best_ms(act)
            print(f"{name:40s} {found[name]:8.1f} ms")
    return found


if __name__ == "__main__":
    compare_all()
