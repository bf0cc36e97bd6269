"""Which migration shows buried things best at which line spacing, on simulated ground of known content.

Usage: python -m benchmarks.spacing_contrast [--seeds N]

A square of 7 m: a pipe across the lines, one along them, two oblique ones, a wall along the lines, one across, a tank;
stones, a waving layer, noise. Lines along y, or both ways, at spacings from a quarter to two wavelengths. For each
way of imaging: the area under the ROC curve of each object's footprint against the ground around it, in the best depth
slice near its top (0.5 is chance, 1 perfect). Prints a table of the mean and the worst; judges nothing.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable

import numpy as np

from benchmarks.simulate.ground import Ground, Layer
from benchmarks.simulate.objects import Interface, Pipe, Scene, scatter_stones, surface_patch, waving
from benchmarks.simulate.pulse import clean_line
from benchmarks.simulate.walk import Habits, lay_lines, walk_line
from gridmap.condition.recipe import choose_recipe, finish_lines
from gridmap.model import CleanLine, Float32, Float64, Grid, VelocityModel
from gridmap.place.spacing import measure_spacing
from gridmap.slices.reduce import window_rms
from gridmap.slices.window import depth_windows
from gridmap.volume.blank import distance_to_trace
from gridmap.volume.build import Gridding, depth_volume
from gridmap.volume.layout import choose_blank_m, choose_depths
from gridmap.volume.likeness import Likeness
from gridmap.volume.sources import survey_sources

SIDE_M = 7.0
FINEST_M = 0.125
MHZ, SEPARATION_M, INTERVAL_NS, SAMPLES = 300.0, 0.15, 0.25, 180
SOILS = {
    "sandy": (Layer("topsoil", 0.3, 7.0, 2.0), Layer("sand", math.inf, 8.5, 4.0)),
    "wet": (Layer("topsoil", 0.4, 11.0, 4.0), Layer("loam", math.inf, 14.0, 6.0)),
}
PIPES = {  # name: start, end, radius, reflection
    "across": ((-2.0, 1.0, 0.60), (9.0, 1.0, 0.60), 0.04, 0.35),
    "along": ((1.0, -2.0, 0.55), (1.0, 9.0, 0.55), 0.04, 0.35),
    "oblique 30": ((-2.0, 0.4, 0.90), (9.0, 6.75, 0.90), 0.05, 0.45),
    "oblique 60": ((2.0, -2.0, 0.75), (7.0, 6.66, 0.75), 0.05, 0.40),
}
BOXES = {  # name: centre, size, yaw, top, reflection
    "wall along": ((3.1, 4.6), (0.6, 3.4), 0.0, 0.45, 0.10),
    "wall across": ((5.2, 5.9), (2.8, 0.6), 0.0, 0.40, 0.10),
    "tank": ((4.6, 2.4), (1.2, 0.9), 20.0, 0.70, -0.30),
}


def lay_scene(soil: str, seed: int) -> Scene:
    """Lay the ground; the soil gives the layers, the seed the stones, the rubble and the waves."""
    rng = np.random.default_rng([seed, 17])
    ground = Ground.lay(*SOILS[soil])
    patches = [
        surface_patch(
            ground, centre, size, yaw, top, r, spacing_m=0.03, roughness_m=0.03 if "wall" in name else 0.0, rng=rng
        )
        for name, (centre, size, yaw, top, r) in BOXES.items()
    ]  # fmt: skip
    surfaces = patches[0]
    for patch in patches[1:]:
        surfaces += patch
    top = SOILS[soil][0].thickness_m
    return Scene(
        ground,
        pipes=tuple(Pipe(a, b, radius, r) for a, b, radius, r in PIPES.values()),
        interfaces=(Interface(top, 0.01, -0.01, -0.03, waving(rng, 0.012, 0.8, 3.0)),),
        surfaces=surfaces,
        stones=scatter_stones(rng, (SIDE_M, SIDE_M), 14.0, (0.15, 1.3), 0.012),
    )


def walk_lines(scene: Scene, seed: int, noise: float) -> dict[str, list[CleanLine]]:
    """Walk lines `FINEST_M` apart along y and along x, without faults but wobble and noise."""
    rng = np.random.default_rng([seed, 18])
    out: dict[str, list[CleanLine]] = {}
    for along in ("y", "x"):
        out[along] = []
        for name, start, end in lay_lines(along, SIDE_M, SIDE_M, FINEST_M, along=along):
            walk = walk_line(rng, name, start, end, Habits(0.04, wobble_m=0.01), 0.0)
            traces = clean_line(
                scene, walk.mid_m, walk.heading, separation_m=SEPARATION_M, centre_mhz=MHZ, samples=SAMPLES,
                interval_ns=INTERVAL_NS, stone_aperture_m=1.2, aperture_m=2.0,
            )  # fmt: skip
            traces += noise * rng.normal(size=traces.shape)
            along_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(walk.mid_m, axis=0).T))])
            out[along].append(
                CleanLine(
                    name, walk.mid_m, along_m, traces.astype(np.float32), np.ones(len(traces), bool), 0.0
                )
            )
    return out


def conditioned(lines: list[CleanLine]) -> tuple[list[CleanLine], float]:
    """Remove background and decay as the main job does."""
    recipe = choose_recipe(MHZ, SEPARATION_M, INTERVAL_NS)
    own = [
        CleanLine(
            ln.name, ln.xy_m, ln.along_m, refined(ln.traces, INTERVAL_NS / recipe.interval_ns), ln.usable, 0.0
        )
        for ln in lines
    ]
    return list(finish_lines(own, recipe).lines), recipe.interval_ns


def refined(traces: Float32, times: float) -> Float32:
    """Return traces with so many times the samples, by zeros behind the spectrum."""
    n = traces.shape[1]
    wide = round(n * times)
    return (np.fft.irfft(np.fft.rfft(traces, axis=1), wide, axis=1) * times).astype(np.float32)


def layered(soil: str) -> VelocityModel:
    """Return the true layers as a velocity model."""
    layers = SOILS[soil]
    tops = np.concatenate([[0.0], np.cumsum([a.thickness_m for a in layers[:-1]])])
    return VelocityModel(tops, np.array([a.velocity_m_per_ns for a in layers]), 0.0, "true")


def distance_to_axis(name: str, x: Float64, y: Float64) -> Float64:
    """Distance in plan to a pipe's axis, or to a box's outline (0 inside), metres."""
    if name in PIPES:
        a, b = (np.array(p[:2]) for p in PIPES[name][:2])
        run = (b - a) / np.hypot(*(b - a))
        return np.abs((x - a[0]) * run[1] - (y - a[1]) * run[0])
    (cx, cy), size, yaw, *_ = BOXES[name]
    c, s = math.cos(math.radians(yaw)), math.sin(math.radians(yaw))
    u, v = c * (x - cx) + s * (y - cy), -s * (x - cx) + c * (y - cy)
    return np.hypot(np.maximum(np.abs(u) - size[0] / 2, 0), np.maximum(np.abs(v) - size[1] / 2, 0))


def roc_area(inside: Float32, outside: Float32) -> float:
    """Area under the ROC curve (Mann and Whitney 1947)."""
    rank = np.argsort(np.argsort(np.concatenate([inside, outside]), kind="stable"), kind="stable")
    n = len(inside)
    return float((rank[:n].sum() - n * (n - 1) / 2) / (n * len(outside)))


def contrasts(values: Float32, depth_m: Float64, grid: Grid, velocity: VelocityModel) -> dict[str, float]:
    """Contrast of each object in the best slice from 0.12 m above its top to 0.2 m below."""
    windows = depth_windows(float(depth_m[-1]), 0.12, 0.5, velocity)
    cut = window_rms(values, depth_m, windows)
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    inner = (x > 0.1) & (y > 0.1) & (x < SIDE_M - 0.1) & (y < SIDE_M - 0.1)
    away = {name: distance_to_axis(name, x, y) for name in (*PIPES, *BOXES)}
    out = {}
    for name, d in away.items():
        top = PIPES[name][0][2] - PIPES[name][2] if name in PIPES else BOXES[name][3]
        free = np.all(
            [other > (0.25 if n in BOXES else 0.33) for n, other in away.items() if n != name], axis=0
        )
        hit = inner & (d <= (0.08 if name in PIPES else 0.0))
        ring = inner & free & (d > 0.35) & (d < 1.2)
        best = 0.0
        for layer, window in zip(cut, windows, strict=True):
            if window.base_m >= top - 0.12 and window.top_m <= top + 0.20:
                a, b = layer[hit], layer[ring]
                best = max(best, roc_area(a[np.isfinite(a)], b[np.isfinite(b)]))
        out[name] = best
    return out


def images(
    lines: list[CleanLine], interval_ns: float, velocity: VelocityModel, modes: tuple[str, ...]
) -> dict[str, dict[str, float]]:
    """Image the lines in every way; contrasts by way."""
    wavelength_m = velocity.mean_m_per_ns() * 1e3 / MHZ
    spacing = measure_spacing([ln.xy_m for ln in lines])
    cell_m = 0.05
    blank_m = choose_blank_m(spacing.line_m, spacing.trace_m, cell_m)
    cells = round(SIDE_M / cell_m) + 1
    grid = Grid(0.0, 0.0, cell_m, cells, cells)
    depth_m = choose_depths(1.3, wavelength_m)
    distance = distance_to_trace(np.concatenate([ln.xy_m for ln in lines]), grid)
    likeness = Likeness("matern52", (0.3, 0.3), 0.0, 0.98)
    gridding = Gridding.over(survey_sources(lines, cell_m, spacing.line_m), grid, likeness, blank_m)
    out = {}
    for mode in modes:
        volume = depth_volume(
            mode, lines, interval_ns, SEPARATION_M, velocity, depth_m, distance, gridding
        )  # fmt: skip
        out[mode] = contrasts(volume.values, depth_m, grid, velocity)
    return out


def main(image: Callable[..., dict[str, dict[str, float]]] = images) -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--seeds", type=int, default=2)
    ask.add_argument("--modes", nargs="+", default=["3d", "2d"])
    ask.add_argument("--noise", type=float, default=0.004)
    words = ask.parse_args()
    print(
        "| soil | lines | spacing, wavelengths | way | " + " | ".join((*PIPES, *BOXES)) + " | mean | worst |"
    )
    print("| --- | --- | --: | --- |" + " --: |" * (len(PIPES) + len(BOXES) + 2))
    for soil in SOILS:
        velocity = layered(soil)
        walked = {seed: walk_lines(lay_scene(soil, seed), seed, words.noise) for seed in range(words.seeds)}
        for both in (False, True):
            for every in (1, 2, 3, 4, 6, 8):
                found: dict[str, list[dict[str, float]]] = {}
                for by_way in walked.values():
                    some = by_way["y"][::every] + (by_way["x"][::every] if both else [])
                    lines, interval_ns = conditioned(some)
                    for mode, result in image(lines, interval_ns, velocity, tuple(words.modes)).items():
                        found.setdefault(mode, []).append(result)
                apart = every * FINEST_M / (velocity.mean_m_per_ns() * 1e3 / MHZ)
                for mode, results in found.items():
                    mean = {name: float(np.mean([r[name] for r in results])) for name in results[0]}
                    row = [*mean.values(), float(np.mean(list(mean.values()))), min(mean.values())]
                    print(
                        f"| {soil} | {'both ways' if both else 'one way'} | {apart:.2f} | {mode} | "
                        + " | ".join(f"{v:.3f}" for v in row)
                        + " |",
                        flush=True,
                    )


if __name__ == "__main__":
    main()
