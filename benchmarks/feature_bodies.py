"""Random surveys with bodies that have an area, for the calibration of outlines.

`python -m benchmarks.outline_surveys FOLDER FIRST COUNT` writes COUNT surveys from seed FIRST on, each a folder
with site.toml, lines/*.sgy and ground.json. Soil, antenna, spacing, size and what lies below are drawn at random; every
fourth survey is empty of bodies. Rays and Kirchhoff's integral of `benchmarks.simulate`, nothing of gridmap's imaging.
"""

from __future__ import annotations

import argparse
import json
import math
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import shapely

from benchmarks.simulate.faults import Levels, apply_faults, plan_faults
from benchmarks.simulate.ground import Ground, Layer
from benchmarks.simulate.objects import (
    NO_POINTS,
    Interface,
    Pipe,
    Points,
    Post,
    Scene,
    scatter_stones,
    surface_patch,
    waving,
)
from benchmarks.simulate.pulse import clean_line
from benchmarks.simulate.survey_files import Frame, write_line
from benchmarks.simulate.walk import Habits, lay_lines, walk_line
from gridmap.files import write_text

FRAME = Frame(easting_m=402150.0, northing_m=5410480.0, rotation_deg=-8.0)
SOURCE = 0.1
INTERVAL_PS = 200


@dataclass(frozen=True, slots=True)
class Plan:
    """How a drawn survey is walked; megahertz, metres."""

    frequency_mhz: float
    size_m: tuple[float, float]
    spacing_m: float
    both: bool
    trace_m: float
    samples: int


def draw_plan(rng: np.random.Generator) -> Plan:
    """Draw antenna, size and spacing."""
    mhz = float(rng.choice([250, 300, 350, 400, 500]))
    size = tuple(float(round(s * 2) / 2) for s in rng.uniform(5.5, 9.0, 2))
    spacing = float(rng.choice([0.25, 0.25, 0.3, 0.5, 0.5]))
    return Plan(mhz, size, spacing, bool(rng.random() < 0.3), 0.05 if mhz < 400 else 0.04, 240)


def _apparent(top_m: float, thick_m: float, ground: Ground, inside: float) -> float:
    """Depth at which the base of a body of permittivity `inside` seems to lie."""
    return top_m + thick_m * ground.velocity_at(top_m) * math.sqrt(inside) / 0.299792458


def _disk(points: Points, centre: tuple[float, float], radius_m: float) -> Points:
    keep = np.hypot(*(points.xyz_m[:, :2] - np.array(centre)).T) <= radius_m
    return Points(points.xyz_m[keep], points.strength[keep])


def _body(rng: np.random.Generator, kind: str, place, ground: Ground) -> tuple[Points, dict[str, object]]:
    """One body: its top, and what comes back from below it."""
    yaw = float(rng.uniform(0, 180))
    sizes = {
        "tank": ((1.0, 2.2), (0.8, 1.4), (0.4, 1.0)),
        "chamber": ((0.7, 1.3), (0.6, 1.1), (0.3, 0.8)),
        "slab": ((0.7, 2.0), (0.5, 1.0), (0.3, 0.8)),
        "pit": ((0.8, 2.0), (0.6, 1.2), (0.4, 0.9)),
        "lid": ((0.7, 1.2), (0.7, 1.2), (0.3, 0.7)),
        "footing": ((2.5, 4.5), (0.45, 0.8), (0.35, 0.7)),
    }[kind]
    length, width, top = (float(rng.uniform(*s)) for s in sizes)
    width = length if kind == "lid" else min(width, length)
    v = ground.velocity_at(top)
    eps = (0.299792458 / v) ** 2
    inside = {"tank": None, "chamber": 1.0, "slab": 5.5, "pit": eps * float(rng.choice([0.72, 1.4])), "lid": None,
              "footing": eps * 0.68}[kind]  # fmt: skip
    if kind == "tank" and rng.random() < 0.4:
        inside = 80.0
    r = (
        -1.0
        if inside is None
        else (math.sqrt(eps) - math.sqrt(inside)) / (math.sqrt(eps) + math.sqrt(inside))
    )
    rough = {"pit": 0.03, "footing": 0.03}.get(kind, 0.005)
    lay = {"centre": place, "size_m": (length, width), "yaw_deg": yaw, "spacing_m": 0.025, "rng": rng}
    loss = 0.1 if kind in ("pit", "footing") else 0.0
    points = surface_patch(ground, depth_m=top, reflection=r, roughness_m=rough, missing=loss, **lay)
    thick = {"slab": 0.12, "lid": 0.02}.get(kind, float(rng.uniform(0.3, 0.8)))
    if inside is None:
        points += surface_patch(
            ground, depth_m=ground.repeat_depth_m(top), reflection=-0.15, roughness_m=rough, **lay
        )
    else:
        base = min(_apparent(top, thick, ground, inside), 2.8)
        share = 0.3 if inside > 40 else 0.7 * (1 - r * r)
        points += surface_patch(ground, depth_m=base, reflection=-r * share, roughness_m=rough, **lay)
    if kind == "lid":
        points = _disk(points, place, length / 2)
        outline = [[place[0] + length / 2 * math.cos(a), place[1] + length / 2 * math.sin(a)]
                   for a in np.linspace(0, 2 * math.pi, 40, endpoint=False)]  # fmt: skip
    else:
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * [length, width]
        a = math.radians(yaw)
        outline = (
            corners @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]]) + place
        ).tolist()
    said = {"kind": kind, "outline": np.round(outline, 3).tolist(), "depth_top_m": round(top, 3),
            "thickness_m": None if inside is None else round(thick, 3), "reflection": round(r, 3)}  # fmt: skip
    return points, said


def draw_scene(rng: np.random.Generator, plan: Plan, empty: bool) -> tuple[Scene, list[dict[str, object]]]:
    """Draw soil, bodies, pipes, stones, boundaries and a post."""
    eps = float(rng.uniform(5.0, 14.0))
    layers = (
        Layer("topsoil", float(rng.uniform(0.2, 0.5)), eps * float(rng.uniform(0.8, 1.0)), 3.0),
        Layer("subsoil", 1.5, eps, float(rng.uniform(2.0, 8.0))),
        Layer("deep", np.inf, eps * float(rng.uniform(1.0, 1.4)), 8.0),
    )
    ground = Ground.lay(*layers)
    w, h = plan.size_m
    bodies, said, used = NO_POINTS, [], []
    for _ in range(0 if empty else int(rng.integers(1, 5))):
        kind = str(rng.choice(["tank", "chamber", "slab", "pit", "lid", "footing"]))
        for _ in range(30):
            place = (float(rng.uniform(0.8, w - 0.8)), float(rng.uniform(0.8, h - 0.8)))
            points, what = _body(rng, kind, place, ground)
            outline = shapely.Polygon(what["outline"])
            if all(outline.distance(u) > 0.6 for u in used) and outline.within(shapely.box(0, 0, w, h)):
                used.append(outline)
                bodies += points
                said.append(what)
                break
    pipes = []
    for _ in range(int(rng.integers(0, 3))):
        angle, foot = rng.uniform(0, np.pi), rng.uniform(0.2, 0.8, 2) * [w, h]
        run = 12 * np.array([np.cos(angle), np.sin(angle)])
        depth = float(rng.uniform(0.4, 1.3))
        metal = rng.random() < 0.5
        radius = float(rng.uniform(0.02, 0.08))
        ends = [(*(foot + s * run), depth) for s in (-1, 1)]
        pipes.append(Pipe(*ends, radius, -1.0 if metal else 0.5, None if metal else 1.0))
        said.append({"kind": "pipe", "axis": np.round(ends, 3).tolist()})
    layers_seen = tuple(
        Interface(z, *rng.normal(0, 0.01, 2), float(rng.normal(0, 0.06)), waving(rng, 0.02, 1.5, 6.0))
        for z in (layers[0].thickness_m, layers[0].thickness_m + 1.5)
    )
    posts = ()
    if rng.random() < 0.4:
        posts = (Post(float(rng.uniform(-2, -0.5)), float(rng.uniform(0, h)), float(rng.uniform(0.05, 0.3))),)
    stones = scatter_stones(
        rng, plan.size_m, float(rng.uniform(2, 12)), (0.12, 1.8), float(rng.uniform(0.004, 0.014))
    )
    return Scene(ground, tuple(pipes), layers_seen, bodies, stones, posts), said


def make(folder: Path, seed: int) -> None:
    """Draw and write one survey."""
    rng = np.random.default_rng([5001, seed])
    plan = draw_plan(rng)
    scene, said = draw_scene(rng, plan, seed % 4 == 0)
    habits = Habits(trace_m=plan.trace_m, wobble_m=0.012, late_m=float(rng.uniform(0, 0.03)), dropped=0.001)
    levels = replace(Levels(), white=float(rng.uniform(3e-4, 1e-3)), band=float(rng.uniform(3e-4, 1e-3)))
    (folder / "lines").mkdir(parents=True, exist_ok=True)
    w, h = plan.size_m
    rules = [("Y", lay_lines("Y", h, w, plan.spacing_m), (0.0, h), (plan.spacing_m, 0.0))]
    if plan.both:
        rules.append(("X", lay_lines("X", w, h, plan.spacing_m, along="x"), (w, 0.0), (0.0, plan.spacing_m)))
    clock = datetime(2024, 5, 7, 8, 0, tzinfo=UTC).timestamp()
    for name, start, end in [one for rule in rules for one in rule[1]]:
        walk = walk_line(rng, name, start, end, habits, clock)
        clock = walk.time_s[-1] + 25
        faults = plan_faults(rng, walk.trigger, levels)
        traces = clean_line(
            scene, walk.mid_m, walk.heading, separation_m=0.15, centre_mhz=plan.frequency_mhz, samples=plan.samples,
            interval_ns=INTERVAL_PS * 1e-3, time_zero_ns=faults.time_zero_ns, source=SOURCE, direct=1.0,
            aperture_m=2.0, stone_aperture_m=1.2,
        )  # fmt: skip
        traces = apply_faults(rng, traces, faults, levels, INTERVAL_PS * 1e-3, plan.frequency_mhz * 1e-3)
        write_line(
            folder / "lines" / f"{name}.sgy", traces, interval_ps=INTERVAL_PS, sample_format=5, walk=walk,
            text=("Invented and simulated", f"line {name}"),
        )  # fmt: skip
    control = "".join(
        f'[[control]]\nname = "{n}"\nlocal_m = [{x}, {y}]\nmap_m = {list(FRAME.to_map(x, y))}\n\n'
        for n, x, y in (("A", 0.0, 0.0), ("B", w, 0.0), ("C", w, h), ("D", 0.0, h))
    )
    lines = "".join(
        f'[[lines]]\nfiles = "lines/{p}*.sgy"\nfirst_start_m = [0.0, 0.0]\nfirst_end_m = {list(end)}\n'
        f"step_m = {list(step)}\nzigzag = true\n\n"
        for p, _, end, step in rules
    )
    write_text(
        folder / "site.toml",
        f'[site]\nname = "outlines {seed}"\ncrs = "EPSG:32633"\nsize_m = [{w}, {h}]\n\n{control}'
        f"[antenna]\nfrequency_mhz = {plan.frequency_mhz:g}\nseparation_m = 0.15\n\n"
        f"[record]\nsample_interval_ns = {INTERVAL_PS * 1e-3:g}\n\n{lines}",
    )
    write_text(folder / "ground.json", json.dumps({"plan": asdict(plan),
                                                   "objects": said}, indent=1) + "\n")  # fmt: skip


def main() -> None:
    """Read the command line and write the surveys."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("first", type=int)
    parser.add_argument("count", type=int)
    asked = parser.parse_args()
    for seed in range(asked.first, asked.first + asked.count):
        make(asked.folder / f"s{seed:03d}", seed)
        print(f"s{seed:03d}", flush=True)


if __name__ == "__main__":
    main()
