"""Make the demo survey that ships with gridmap: `python -m benchmarks.make_demo_survey [FOLDER]`.

An invented place, simulated by `benchmarks.simulate`; the same bytes every time. Without FOLDER it goes into
gridmap/demo_data. The site file is kept beside this script's numbers on purpose: it is the example that users
read.
"""

from __future__ import annotations

import json
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from benchmarks.simulate.faults import Levels, apply_faults, plan_faults
from benchmarks.simulate.ground import Ground, Layer
from benchmarks.simulate.objects import Interface, Pipe, Post, Scene, scatter_stones, surface_patch, waving
from benchmarks.simulate.pulse import clean_line
from benchmarks.simulate.survey_files import Frame, write_line
from benchmarks.simulate.walk import Habits, Walk, lay_lines, walk_line
from gridmap.files import write_text

WIDTH_M, LENGTH_M, SPACING_M = 9.5, 7.5, 0.25
CENTRE_MHZ, SEPARATION_M = 350.0, 0.14
SAMPLES, INTERVAL_PS = 200, 200
SOURCE = 0.1
FRAME = Frame(easting_m=415287.640, northing_m=5391642.180, rotation_deg=14.3)
CRS = "EPSG:32633"
CLOCK_S = datetime(2024, 4, 16, 7, 42, tzinfo=UTC).timestamp()

# Rays are traced in flat layers: the sand is taken to reach below every point of the dipping clay, and
# nothing lies in the clay.
LAYERS = (
    Layer("made ground", 0.36, 6.6, 2.5),
    Layer("silty sand", 1.40, 9.2, 4.5),
    Layer("clay", np.inf, 16.0, 15.0),
)
CLAY_TOP = {"depth_m": 1.38, "dip_x": 0.028, "dip_y": -0.012}
MAIN = {"start": (-1.5, 1.02, 0.66), "end": (11.0, 2.77, 0.66), "radius_m": 0.03}
DRAIN = {"start": (-1.5, 7.15, 0.80), "end": (11.0, 4.05, 1.14), "radius_m": 0.08}
TANK = {"centre": (6.7, 6.0), "size_m": (2.0, 1.2), "yaw_deg": -6.0, "depth_m": 0.70}
REPEAT = 0.3
FOOTING = (
    {"centre": (3.35, 3.75), "size_m": (2.9, 0.45), "yaw_deg": 9.0, "depth_m": 0.42},
    {"centre": (2.05, 4.75), "size_m": (0.45, 2.4), "yaw_deg": 9.0, "depth_m": 0.42},
)
POST = Post(11.4, 3.2, -0.055)
HABITS = Habits(
    trace_m=0.05, wheel_error=0.014, wheel_error_sd=0.003, late_m=0.04, wobble_m=0.012, dropped=0.004
)
LEVELS = Levels()


def lay_ground(rng: np.random.Generator) -> Scene:
    """Put everything into the ground of the demo."""
    ground = Ground.lay(*LAYERS)
    surfaces = surface_patch(ground, **TANK, reflection=-1.0)
    # The wave that runs down and up twice: its mirror image, turned at the tank twice and at the ground's
    # surface once.
    repeat = TANK | {"depth_m": ground.repeat_depth_m(TANK["depth_m"])}
    surfaces += surface_patch(ground, **repeat, reflection=REPEAT)
    for part in FOOTING:
        surfaces += surface_patch(ground, **part, reflection=-0.22, roughness_m=0.03, missing=0.15, rng=rng)
    return Scene(
        ground,
        pipes=(
            Pipe(**MAIN, reflection=-1.0),
            Pipe(**DRAIN, reflection=0.5, inside_permittivity=1.0),
        ),
        interfaces=(
            Interface(0.36, 0.0, 0.0, -0.08, waving(rng, 0.012, 1.2, 4.0)),
            Interface(**CLAY_TOP, reflection=-0.137, waves=waving(rng, 0.02, 1.5, 5.0)),
        ),
        surfaces=surfaces,
        stones=scatter_stones(rng, (WIDTH_M, LENGTH_M), 7.0, (0.12, 1.3), 0.009),
        posts=(POST,),
    )


def rectangle(centre: tuple[float, float], size_m: tuple[float, float], yaw_deg: float) -> list[list[float]]:
    """Corners of a turned rectangle, anticlockwise."""
    cos, sin = np.cos(np.radians(yaw_deg)), np.sin(np.radians(yaw_deg))
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(size_m) / 2
    turned = half @ np.array([[cos, sin], [-sin, cos]]) + np.array(centre)
    return np.round(turned, 3).tolist()


def ground_truth(
    scene: Scene, walks: list[Walk], logs: list[tuple[dict[str, object], ...]]
) -> dict[str, object]:
    """Say what was put into the ground, and what was done to the lines."""

    def pipe(name: str, what: str, spec: dict, material: str) -> dict[str, object]:
        axis = [list(spec["start"]), list(spec["end"])]
        return {
            "id": name,
            "type": "pipe",
            "what": what,
            "material": material,
            "radius_m": spec["radius_m"],
            "axis_local_m": axis,
            "axis_map_m": FRAME.all_to_map(axis),
            "depth_top_m": [round(p[2] - spec["radius_m"], 3) for p in axis],
        }

    def patch(name: str, what: str, spec: dict, material: str) -> dict[str, object]:
        outline = rectangle(spec["centre"], spec["size_m"], spec["yaw_deg"])
        return {
            "id": name,
            "type": "box",
            "what": what,
            "material": material,
            "depth_top_m": spec["depth_m"],
            "outline_local_m": outline,
            "outline_map_m": FRAME.all_to_map(outline),
        }

    return {
        "note": "Invented and simulated. What was put into the ground of the demo; the program never reads"
        " this file, tests compare its map with it. Depths are metres below a flat surface. Pipes run on"
        " beyond the grid.",
        "crs": CRS,
        "frame": {
            "origin_map_m": [FRAME.easting_m, FRAME.northing_m],
            "rotation_deg_x_axis_from_east_anticlockwise": FRAME.rotation_deg,
        },
        "layers": [
            {
                "name": layer.name,
                "permittivity": layer.permittivity,
                "conductivity_ms_per_m": layer.conductivity_ms_per_m,
                "velocity_m_per_ns": round(layer.velocity_m_per_ns, 4),
            }
            for layer in LAYERS
        ],
        "layer_tops": {"silty sand": {"depth_m": 0.36}, "clay": CLAY_TOP},
        "two_way_time_ns_at_depth_m": {
            str(d): round(scene.ground.vertical_time_ns(d), 2) for d in (0.3, 0.5, 0.7, 1.0, 1.4)
        },
        "objects": [
            pipe("main", "old water main, crosses the court", MAIN, "steel"),
            pipe("drain", "drain, falls toward growing x", DRAIN, "clay, dry"),
            patch("tank", "forgotten oil tank, flat top", TANK, "steel"),
            patch("footing-a", "footing of a wall taken down, rubble", FOOTING[0], "stone"),
            patch("footing-b", "footing of a wall taken down, rubble", FOOTING[1], "stone"),
        ],
        "beside_the_grid": [
            {"id": "post", "what": "gate post, echo through the air", "local_m": [POST.x_m, POST.y_m]}
        ],
        "repeats": [
            {
                "of": "tank",
                "seems_to_lie_at_m": round(scene.ground.repeat_depth_m(TANK["depth_m"]), 3),
                "note": "nothing is there: the wave ran between tank and surface twice",
            }
        ],
        "walking": {
            "late_m": HABITS.late_m,
            "late_note": "the antenna lies this far ahead of where the pegs say, in the direction walked",
            "wheel_error": HABITS.wheel_error,
        },
        "lines": [
            {
                "name": walk.name,
                "wheel_error": round(walk.wheel_error, 4),
                "true_first_m": np.round(walk.mid_m[0], 3).tolist(),
                "true_last_m": np.round(walk.mid_m[-1], 3).tolist(),
                "traces": len(walk.mid_m),
                "dropped_triggers": sorted(
                    set(range(1, int(walk.trigger[-1]) + 1)) - set(walk.trigger.tolist())
                ),
                **log[0],
                "faults": list(log[1:]),
            }
            for walk, log in zip(walks, logs, strict=True)
        ],
    }


def site_file(rng: np.random.Generator) -> str:
    """Write the site file of the demo, with control points good to about a centimetre."""
    control = ""
    for name, x, y in (("A", 0.0, 0.0), ("B", WIDTH_M, 0.0), ("C", WIDTH_M, LENGTH_M), ("D", 0.0, LENGTH_M)):
        east, north = (m + 0.008 * e for m, e in zip(FRAME.to_map(x, y), rng.normal(size=2), strict=True))
        control += (
            f'[[control]]\nname = "{name}"\nlocal_m = [{x}, {y}]\nmap_m = [{east:.3f}, {north:.3f}]\n\n'
        )
    return SITE.format(
        width=WIDTH_M,
        length=LENGTH_M,
        spacing=SPACING_M,
        crs=CRS,
        control=control,
        centre=CENTRE_MHZ,
        separation=SEPARATION_M,
        interval=INTERVAL_PS * 1e-3,
    )


SITE = """\
# Site file of the demo. The place is invented and the radar lines are simulated: see README.md beside this
# file. Lengths are metres, times nanoseconds. Whatever is not stated here is found from the data, and said in
# the report.

[site]
name = "Brewery court, Eschenkofel"
description = "Delivery court, before a kitchen is built: water main, drain and old oil tank wanted."
crs = "{crs}"              # the map that the results lie in: a projected system in metres
size_m = [{width}, {length}]              # the grid: along the baseline (x), and across it (y)

# Corner pegs, known in the grid (tape) and in the map (surveyed to about a centimetre). Two are needed, more
# are a check.
{control}[antenna]
frequency_mhz = {centre:g}
separation_m = {separation}             # transmitter to receiver, one behind the other as walked

[record]
sample_interval_ns = {interval:g}        # the field book; the files hold the same, in picoseconds

# There is no [ground] table: the velocity is not known here, so it is found from the hyperbolas in the data.

# Lines B001, B002, ... in the order walked. The first ran along the left edge, each next one {spacing} m to
# its right; every second line was walked back.
[[lines]]
files = "lines/B*.sgy"
first_start_m = [0.0, 0.0]
first_end_m = [0.0, {length}]
step_m = [{spacing}, 0.0]
zigzag = true
"""


def make(folder: Path) -> None:
    """Simulate the survey and write it into `folder`."""
    rng_ground, rng_walk, rng_faults, rng_control = (np.random.default_rng([1887, k]) for k in range(4))
    scene = lay_ground(rng_ground)
    walks, logs, lines, clock = [], [], [], CLOCK_S
    for name, start, end in lay_lines("B", LENGTH_M, WIDTH_M, SPACING_M):
        walk = walk_line(rng_walk, name, start, end, HABITS, clock)
        clock = walk.time_s[-1] + rng_walk.uniform(18, 40)
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
        )
        lines.append(apply_faults(rng_faults, traces, faults, LEVELS, INTERVAL_PS * 1e-3, CENTRE_MHZ * 1e-3))
        walks.append(walk)
        logs.append(faults.log)
    scale = 30000 / max(np.abs(a).max() for a in lines)
    (folder / "lines").mkdir(parents=True, exist_ok=True)
    for walk, traces in zip(walks, lines, strict=True):
        write_line(
            folder / "lines" / f"{walk.name}.sgy",
            np.round(traces * scale),
            interval_ps=INTERVAL_PS,
            sample_format=3,
            walk=walk,
            text=("Invented site, simulated data: demo of gridmap", f"line {walk.name}"),
        )
    write_text(folder / "site.toml", site_file(rng_control))
    truth = json.dumps(ground_truth(scene, walks, logs), indent=1, ensure_ascii=False)
    write_text(folder / "ground.json", truth + "\n")


def main() -> None:
    """Write the demo survey and say how long it took."""
    here = Path(__file__).parents[1] / "gridmap" / "demo_data"
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else here
    begun = time.perf_counter()
    make(folder)
    size = sum(p.stat().st_size for p in folder.rglob("*") if p.is_file())
    print(f"{folder}: {size / 1e6:.2f} MB in {time.perf_counter() - begun:.1f} s")


if __name__ == "__main__":
    main()
