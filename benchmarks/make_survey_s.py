"""Make the reference survey "S" for speed runs: `python -m benchmarks.make_survey_s FOLDER [--scale M]`.

A square of 20 m walked in both directions, 162 lines 0.25 m apart, a trace each 0.02 m, 512 samples of 0.1
ns, SEG-Y float32: some 160 000 traces and 370 MB with headers. `--scale 5` makes a square of 5 m by the same
rules. Pipes, tanks, clutter and noise are drawn by a generator of fixed start: the same scale gives the same
bytes; ground.json says what was drawn.
"""

from __future__ import annotations

import argparse
import json
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from benchmarks.simulate.faults import Levels, apply_faults, plan_faults
from benchmarks.simulate.ground import Ground, Layer
from benchmarks.simulate.objects import (
    NO_POINTS,
    Interface,
    Pipe,
    Scene,
    scatter_stones,
    surface_patch,
    waving,
)
from benchmarks.simulate.pulse import clean_line
from benchmarks.simulate.survey_files import Frame, write_line
from benchmarks.simulate.walk import Habits, lay_lines, walk_line
from gridmap.files import write_text

SPACING_M, TRACE_M = 0.25, 0.02
CENTRE_MHZ, SEPARATION_M = 400.0, 0.14
SAMPLES, INTERVAL_PS = 512, 100
SOURCE = 0.1
FRAME = Frame(easting_m=402150.0, northing_m=5410480.0, rotation_deg=-8.0)
LAYERS = (Layer("topsoil", 0.30, 7.5, 2.5), Layer("sand", 1.50, 9.0, 4.0), Layer("till", np.inf, 14.0, 12.0))
CLAY_TOP_M = 1.6
HABITS = Habits(trace_m=TRACE_M, wobble_m=0.01, late_m=0.02, dropped=0.001)
LEVELS = Levels()


def lay_ground(rng: np.random.Generator, side_m: float) -> tuple[Scene, list[dict[str, object]]]:
    """Draw pipes, tanks, a dipping layer and stones; more of them in a larger square."""
    ground = Ground.lay(*LAYERS)
    pipes, said = [], []
    middle = np.array([side_m, side_m]) / 2
    for k in range(max(2, round(side_m * 0.4))):
        angle, aside = rng.uniform(0, np.pi), rng.uniform(-0.4, 0.4) * side_m
        run = np.array([np.cos(angle), np.sin(angle)])
        foot = middle + aside * np.array([-run[1], run[0]])
        depth = rng.uniform(0.45, 1.2) + np.array([-1, 1]) * rng.uniform(-0.15, 0.15)
        ends = [(*(foot + sign * side_m * run), float(d)) for sign, d in zip((-1, 1), depth, strict=True)]
        metal = bool(k % 2 == 0)
        radius = float(rng.uniform(0.02, 0.08))
        pipes.append(Pipe(*ends, radius, -1.0 if metal else 0.5, None if metal else 1.0))
        said.append(
            {
                "type": "pipe",
                "metal": metal,
                "radius_m": round(radius, 3),
                "axis_local_m": np.round(ends, 3).tolist(),
            }
        )
    tanks = NO_POINTS
    for _ in range(max(1, round(side_m**2 * 0.0075))):
        box = {
            "centre": tuple(float(c) for c in rng.uniform(0.2, 0.8, 2) * side_m),
            "size_m": (float(rng.uniform(1.0, 2.0)), float(rng.uniform(0.7, 1.2))),
            "yaw_deg": float(rng.uniform(0, 180)),
            "depth_m": float(rng.uniform(0.5, 0.9)),
        }
        tanks += surface_patch(ground, **box, reflection=-1.0, spacing_m=0.025)
        said.append({"type": "box", **box})
    scene = Scene(
        ground,
        pipes=tuple(pipes),
        interfaces=(
            Interface(LAYERS[0].thickness_m, 0.0, 0.0, -0.05, waving(rng, 0.01, 1.0, 4.0)),
            Interface(CLAY_TOP_M, 0.1 / side_m, -0.1 / side_m, -0.11, waving(rng, 0.02, 2.0, 6.0)),
        ),
        surfaces=tanks,
        stones=scatter_stones(rng, (side_m, side_m), 8.0, (0.12, 1.5), 0.008),
    )
    return scene, said


def site_file(side_m: float) -> str:
    """Write the site file: two rules, one a direction."""
    control = "".join(
        f'[[control]]\nname = "{name}"\nlocal_m = [{x}, {y}]\nmap_m = {list(FRAME.to_map(x, y))}\n\n'
        for name, x, y in (("A", 0.0, 0.0), ("B", side_m, 0.0), ("C", side_m, side_m), ("D", 0.0, side_m))
    )
    rules = "".join(
        f'[[lines]]\nfiles = "lines/{prefix}*.sgy"\nfirst_start_m = [0.0, 0.0]\nfirst_end_m = {list(end)}\n'
        f"step_m = {list(step)}\nzigzag = true\n\n"
        for prefix, end, step in (
            ("Y", (0.0, side_m), (SPACING_M, 0.0)),
            ("X", (side_m, 0.0), (0.0, SPACING_M)),
        )
    )
    return (
        "# Reference survey S: invented and simulated, for speed runs.\n"
        f'[site]\nname = "Survey S, {side_m:g} m"\ncrs = "EPSG:32633"\nsize_m = [{side_m}, {side_m}]\n\n'
        f"{control}"
        f"[antenna]\nfrequency_mhz = {CENTRE_MHZ:g}\nseparation_m = {SEPARATION_M}\n\n"
        f"[record]\nsample_interval_ns = {INTERVAL_PS * 1e-3:g}\n\n{rules}"
    )


def make(folder: Path, side_m: float) -> tuple[int, int]:
    """Simulate the survey line by line and write it into `folder`; return the counts of lines and traces."""
    rng_ground, rng_walk, rng_faults = (np.random.default_rng([4001, k]) for k in range(3))
    scene, said = lay_ground(rng_ground, side_m)
    (folder / "lines").mkdir(parents=True, exist_ok=True)
    clock, count = datetime(2024, 5, 7, 8, 0, tzinfo=UTC).timestamp(), 0
    plans = lay_lines("Y", side_m, side_m, SPACING_M) + lay_lines("X", side_m, side_m, SPACING_M, along="x")
    for name, start, end in plans:
        walk = walk_line(rng_walk, name, start, end, HABITS, clock)
        clock = walk.time_s[-1] + 25
        faults = plan_faults(rng_faults, walk.trigger, LEVELS)
        traces = clean_line(
            scene,
            walk.mid_m,
            walk.heading,
            separation_m=SEPARATION_M,
            centre_mhz=CENTRE_MHZ,
            samples=SAMPLES,
            interval_ns=INTERVAL_PS * 1e-3,
            time_zero_ns=faults.time_zero_ns,
            source=SOURCE,
            direct=1.0,
            aperture_m=2.0,
            stone_aperture_m=1.2,
        )
        traces = apply_faults(rng_faults, traces, faults, LEVELS, INTERVAL_PS * 1e-3, CENTRE_MHZ * 1e-3)
        write_line(
            folder / "lines" / f"{name}.sgy",
            traces,
            interval_ps=INTERVAL_PS,
            sample_format=5,
            walk=walk,
            text=("Invented and simulated: reference survey S", f"line {name}"),
        )
        count += len(traces)
    write_text(folder / "site.toml", site_file(side_m))
    write_text(folder / "ground.json", json.dumps({"side_m": side_m, "objects": said}, indent=1) + "\n")
    return len(plans), count


def main() -> None:
    """Read the command line, make the survey, say what it took."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, help="where the survey goes; made if it is not there")
    parser.add_argument(
        "--scale", type=float, default=20.0, metavar="M", help="side of the square, metres (20)"
    )
    asked = parser.parse_args()
    if asked.scale < 2:
        parser.error("--scale must be 2 m or more")
    begun = time.perf_counter()
    lines, traces = make(asked.folder, asked.scale)
    size = sum(p.stat().st_size for p in asked.folder.rglob("*") if p.is_file())
    took = time.perf_counter() - begun
    print(f"{asked.folder}: {lines} lines, {traces} traces, {size / 1e6:.0f} MB in {took:.1f} s")


if __name__ == "__main__":
    main()
