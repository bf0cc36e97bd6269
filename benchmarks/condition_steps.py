"""What each conditioning step does for contrast, on independent ground.

Usage: python -m benchmarks.condition_steps [--grounds N]

Each ground is laid by `benchmarks.simulate` with a seed, a soil and an antenna of its own: a pipe below one of the
lines and along it, an oblique pipe, a metal box, a broken footing, layers, stones, ringing, wow, noise, dead traces
and bumps. No migration: the envelope within 2 ns of the object's time, over its plan against the ground within 1.2 m
around it, as the area under the ROC curve (0.5 chance, 1 perfect). Prints a table, judges nothing.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from benchmarks.make_demo_survey import rectangle
from benchmarks.simulate.faults import Levels, apply_faults, plan_faults
from benchmarks.simulate.ground import Ground, Layer
from benchmarks.simulate.objects import Interface, Pipe, Scene, scatter_stones, surface_patch, waving
from benchmarks.simulate.pulse import clean_line
from benchmarks.simulate.walk import Habits, lay_lines, walk_line
from gridmap.condition.recipe import choose_recipe, finish_lines, prepare_line
from gridmap.image.envelope import envelope
from gridmap.model import Line, PlacedLine
from gridmap.site.recipes import GENERAL, Steps, named_recipe, recipe_names

SIDE_M, SPACING_M, SEPARATION_M, INTERVAL_NS = 6.0, 0.25, 0.15, 0.2
HABITS = Habits(
    trace_m=0.05, wheel_error=0.01, wheel_error_sd=0.003, late_m=0.0, wobble_m=0.01, dropped=0.003
)

VARIANTS: dict[str, Steps] = {
    "general": GENERAL,
    "time zero by the peak": replace(GENERAL, time_zero_by="peak"),
    "no repair": replace(GENERAL, spike_periods=0.0, dead_gap_wavelengths=0.0),
    "lifted traces lowered": replace(GENERAL, lifted="lower"),
    "no dewow": replace(GENERAL, dewow_periods=0.0),
    "band from the data": replace(GENERAL, band_from="data"),
    "band 0.5 to 1.6": replace(GENERAL, band=(0.5, 1.6)),
    "tones": replace(GENERAL, tones=True),
    "no background removal": replace(GENERAL, background_m=0.0),
    "background by mean": replace(GENERAL, background_by="mean"),
    "background limit 1.5": replace(GENERAL, background_limit=1.5),
    "background limit 1": replace(GENERAL, background_limit=1.0),
    "background without guard": replace(GENERAL, background_limit=100.0),
    "no gain": replace(GENERAL, gain=False),
    "deconvolution": replace(GENERAL, deconvolution=True),
    **{f"recipe {n}": named_recipe(n) for n in recipe_names() if n != "general"},
}


def lay(seed: int) -> tuple[list[PlacedLine], list[tuple[str, shapely.Geometry, float]], float]:
    """Simulate one survey; returns its lines, its objects (name, plan, two-way time) and its frequency."""
    rng = np.random.default_rng([771, seed])
    mhz = float(rng.choice([200.0, 280.0, 400.0]))
    top = Layer("top", float(rng.uniform(0.25, 0.45)), float(rng.uniform(5, 11)), float(rng.uniform(1, 6)))
    ground = Ground.lay(top, Layer("below", np.inf, float(rng.uniform(7, 14)), float(rng.uniform(2, 10))))
    along = SPACING_M * int(rng.integers(5, 9))
    depth = [float(rng.uniform(0.5, 0.9)) for _ in range(2)]
    pipes = {
        "pipe along a line": Pipe((along, -1.5, depth[0]), (along, 7.5, depth[0]), 0.04, 0.45, 1.0),
        "oblique pipe": Pipe((-1.5, 4.6, depth[1]), (7.5, 5.6, depth[1]), 0.04, -1.0),
    }
    box = {"centre": (4.2, 1.5), "size_m": (1.4, 0.9), "yaw_deg": float(rng.uniform(0, 90)), "depth_m": 0.7}
    footing = {
        "centre": (4.1, 3.3),
        "size_m": (2.4, 0.5),
        "yaw_deg": float(rng.uniform(-30, 30)),
        "depth_m": 0.45,
    }
    surfaces = surface_patch(ground, **box, reflection=-1.0)
    surfaces += surface_patch(ground, **footing, reflection=-0.15, roughness_m=0.03, missing=0.2, rng=rng)
    scene = Scene(
        ground,
        pipes=tuple(pipes.values()),
        interfaces=(
            Interface(top.thickness_m, 0.0, 0.0, -0.06, waving(rng, 0.012, 1.2, 4.0)),
            Interface(1.3, 0.03, -0.02, -0.1, waving(rng, 0.02, 1.5, 5.0)),
        ),
        surfaces=surfaces,
        stones=scatter_stones(rng, (SIDE_M, SIDE_M), 8.0, (0.1, 1.3), 0.01),
    )
    lines, clock = [], 0.0
    levels = replace(Levels(), bumps=0.25, dead=0.25, ringing=float(rng.uniform(0.005, 0.02)))
    for name, start, end in lay_lines("L", SIDE_M, SIDE_M, SPACING_M):
        walk = walk_line(rng, name, start, end, HABITS, clock)
        clock = walk.time_s[-1] + 20
        faults = plan_faults(rng, walk.trigger, levels)
        traces = clean_line(
            scene, walk.mid_m, walk.heading, separation_m=SEPARATION_M, centre_mhz=mhz, samples=220,
            interval_ns=INTERVAL_NS, time_zero_ns=faults.time_zero_ns, source=0.1, direct=1.0, aperture_m=2.0,
            stone_aperture_m=1.2,
        )  # fmt: skip
        traces = apply_faults(rng, traces, faults, levels, INTERVAL_NS, mhz * 1e-3)
        run = np.hypot(*(walk.mid_m - walk.mid_m[0]).T)
        run = np.maximum.accumulate(run) + 1e-6 * np.arange(len(run))
        line = Line(name, traces.astype(np.float32), INTERVAL_NS)
        lines.append(PlacedLine(line, walk.mid_m, run))
    objects = [
        (
            n,
            LineString([p.start[:2], p.end[:2]]).buffer(0.1),
            ground.vertical_time_ns(p.start[2] - p.radius_m),
        )
        for n, p in pipes.items()
    ]
    for name, part in (("box", box), ("footing", footing)):
        plan = Polygon(rectangle(part["centre"], part["size_m"], part["yaw_deg"]))
        objects.append((name, plan, ground.vertical_time_ns(part["depth_m"])))
    return lines, objects, mhz


def roc_area(inside: np.ndarray, outside: np.ndarray) -> float:
    """Area under the ROC curve: the chance that a value inside is larger than one outside (Mann and Whitney)."""
    rank = np.argsort(np.argsort(np.concatenate([inside, outside]), kind="stable"), kind="stable")
    n = len(inside)
    return float((rank[:n].sum() - n * (n - 1) / 2) / (n * len(outside)))


def contrasts(lines: list[PlacedLine], objects: list, mhz: float, steps: Steps) -> list[float]:
    """Contrast of each object, best of windows of 2 ns within 2 ns of its time."""
    recipe = choose_recipe(mhz, SEPARATION_M, INTERVAL_NS, steps=steps, example=lines[0].line.traces)
    done = finish_lines([prepare_line(p, recipe) for p in lines], recipe).lines
    xy = np.concatenate([ln.xy_m[ln.usable] for ln in done])
    power = np.concatenate([envelope(ln.traces[ln.usable]) for ln in done]) ** 2
    every = shapely.union_all([plan.buffer(0.25) for _, plan, _ in objects])
    out = []
    for _, plan, at_ns in objects:
        inside = shapely.contains_xy(plan, *xy.T)
        ring = shapely.contains_xy(plan.buffer(1.2).difference(every), *xy.T)
        windows = np.arange(max(0.0, at_ns - 2), at_ns + 3)
        cut = [slice(int(t / recipe.interval_ns), int((t + 2) / recipe.interval_ns) + 1) for t in windows]
        values = [power[:, k].mean(axis=1) for k in cut]
        out.append(max(roc_area(v[inside], v[ring]) for v in values))
    return out


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--grounds", type=int, default=4)
    words = ask.parse_args()
    surveys = [lay(seed) for seed in range(words.grounds)]
    names = [name for name, _, _ in surveys[0][1]]
    print(f"mean over {words.grounds} grounds ({', '.join(f'{mhz:.0f}' for _, _, mhz in surveys)} MHz)\n")
    print(f"| recipe | {' | '.join(names)} | mean | largest loss |\n| --- |{' --: |' * (len(names) + 2)}")
    base: np.ndarray | None = None
    for name, steps in VARIANTS.items():
        found = np.array([contrasts(*survey, steps) for survey in surveys])
        base = found if base is None else base
        cells = " | ".join(f"{v:.3f}" for v in found.mean(axis=0))
        print(f"| {name} | {cells} | {found.mean():.3f} | {min(0.0, (found - base).min()):.3f} |", flush=True)


if __name__ == "__main__":
    main()
