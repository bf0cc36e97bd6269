"""Ground drawn at random for judging what `gridmap.features` finds: soils, pipes, bodies, boulders, stones, posts.

Nothing here knows how features are found. One in five surveys has nothing to find; in one in four of all, stones
lie three times as thick.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import shapely

from benchmarks.feature_bodies import SIZES, draw_body, draw_target
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
    waving,
)
from benchmarks.simulate.pulse import clean_line
from benchmarks.simulate.walk import Habits, lay_lines, walk_line

SEPARATION_M = 0.15
INTERVAL_NS = 0.2


@dataclass(frozen=True, slots=True)
class TrueLine:
    """A pipe: (vertex, 3) local x, y and depth of its top, its reflection coefficient, and words."""

    top_m: np.ndarray
    reflection: float
    what: str


@dataclass(frozen=True, slots=True)
class TrueArea:
    """A tank, slab or pit: (corner, 2) ring, depth of its top, kind, reflection coefficient, thickness."""

    ring_m: np.ndarray
    depth_m: float
    kind: str
    reflection: float
    thickness_m: float | None


@dataclass(frozen=True, slots=True)
class TruePoint:
    """A boulder or small flat thing: (3,) local x, y and depth of its top, reflection coefficient, kind."""

    xyz_m: np.ndarray
    reflection: float
    kind: str


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """One line as simulated: name, (trace, 2) places as placed, metres along, (trace, sample) amplitudes."""

    name: str
    xy_m: np.ndarray
    along_m: np.ndarray
    traces: np.ndarray


@dataclass(frozen=True, slots=True)
class Survey:
    """A simulated survey and what is in its ground."""

    seed: int
    size_m: tuple[float, float]
    spacing_m: float
    both: bool
    frequency_mhz: float
    lines: tuple[DrawnLine, ...]
    pipes: tuple[TrueLine, ...]
    areas: tuple[TrueArea, ...]
    points: tuple[TruePoint, ...]
    stones: Points
    posts: int
    velocity_1m_m_per_ns: float


def draw_survey(seed: int) -> Survey:
    """Draw ground and walk, and simulate the lines; the same seed gives the same survey."""
    rng = np.random.default_rng([7302, seed])
    size = float(rng.uniform(5.0, 8.0)), float(rng.uniform(5.0, 8.0))
    spacing = float(rng.choice([0.25, 0.25, 0.5]))
    size = tuple(round(round(s / spacing) * spacing, 3) for s in size)
    both = bool(rng.random() < 0.4)
    frequency = float(rng.uniform(250, 450))
    ground, interfaces = _soil(rng)
    empty = seed % 5 == 4
    pipes, said = _pipes(rng, size, 0 if empty else int(rng.integers(1, 5)))
    surfaces, areas, points, boulders = NO_POINTS, (), (), NO_POINTS
    if not empty:
        surfaces, areas = _areas(rng, ground, size, int(rng.integers(0, 4)))
        boulders, flat, points = _targets(rng, ground, size, int(rng.integers(0, 5)), areas)
        surfaces += flat
    posts = tuple(
        Post(*_outside(rng, size), float(rng.choice([-1, 1]) * rng.uniform(0.02, 0.08)))
        for _ in range(int(rng.integers(0, 3)))
    )
    thick = 3.0 if rng.random() < 0.25 else 1.0
    stones = scatter_stones(
        rng, size, thick * rng.uniform(3, 15), (0.12, 1.6), float(np.exp(rng.uniform(-5.5, -3.9)))
    )
    scene = Scene(
        ground,
        pipes=tuple(pipes),
        interfaces=interfaces,
        surfaces=surfaces,
        stones=stones + boulders,
        posts=posts,
    )
    lines = _walk(rng, scene, size, spacing, both, frequency)
    velocity = 2.0 / ground.vertical_time_ns(1.0)
    return Survey(
        seed, size, spacing, both, frequency, lines, tuple(said), areas, points, stones, len(posts), velocity
    )


def _soil(rng: np.random.Generator) -> tuple[Ground, tuple[Interface, ...]]:
    top, base = float(rng.uniform(0.2, 0.45)), float(rng.uniform(1.2, 2.0))
    eps = rng.uniform(5, 11), rng.uniform(6, 14), rng.uniform(9, 18)
    layers = (
        Layer("top", top, float(eps[0]), float(rng.uniform(1, 5))),
        Layer("middle", base - top, float(eps[1]), float(rng.uniform(2, 7))),
        Layer("base", math.inf, float(eps[2]), float(rng.uniform(6, 14))),
    )

    def echo(a: float, b: float) -> float:
        return float((math.sqrt(a) - math.sqrt(b)) / (math.sqrt(a) + math.sqrt(b)))

    dip = rng.uniform(-0.04, 0.04, 2)
    # The lower boundary may dip and wave, though rays are traced in flat layers.
    return Ground.lay(*layers), (
        Interface(top, 0.0, 0.0, echo(eps[0], eps[1]), waving(rng, 0.012, 1.2, 4.0)),
        Interface(base, float(dip[0]), float(dip[1]), echo(eps[1], eps[2]), waving(rng, 0.025, 1.5, 6.0)),
    )


KINDS = ("along x", "along y", "oblique", "falling", "bent")


def _pipes(
    rng: np.random.Generator, size: tuple[float, float], count: int
) -> tuple[list[Pipe], list[TrueLine]]:
    pipes, said = [], []
    for _ in range(count):
        kind = str(rng.choice(KINDS))
        aside = rng.uniform(0.15, 0.85, 2) * size
        depth, fall = float(rng.uniform(0.35, 1.3)), 0.0
        angle = {"along x": 0.0, "along y": math.pi / 2}.get(kind, float(rng.uniform(0, math.pi)))
        angle += float(rng.normal(0, 0.02))
        if kind == "falling":
            fall = float(rng.uniform(0.03, 0.1))
        radius = float(np.exp(rng.uniform(math.log(0.008), math.log(0.09))))
        metal = bool(rng.random() < 0.5)
        inside = None if metal else float(rng.choice([1.0, 80.0]))
        echo = -1.0 if metal else float(rng.uniform(0.2, 0.5)) * (1 if inside == 1.0 else -1)
        run = np.array([math.cos(angle), math.sin(angle)])
        reach = 12.0
        legs = [(aside - reach * run, depth + 0.0), (aside + reach * run, depth + 0.0)]
        if fall:
            # The fall is about the middle, and the pipe stays below the turf within the survey.
            half = 0.5 * float(np.hypot(*size))
            depth = max(depth, 0.35 + fall * half)
            legs = [(aside - reach * run, depth - fall * reach), (aside + reach * run, depth + fall * reach)]
        if kind == "bent":
            turn = angle + float(rng.choice([-1, 1]) * rng.uniform(0.3, 1.0))
            legs = [
                legs[0],
                (aside, depth),
                (aside + reach * np.array([math.cos(turn), math.sin(turn)]), depth),
            ]
        places = [(float(p[0]), float(p[1]), float(z)) for p, z in legs]
        for a, b in itertools.pairwise(places):
            a, b = _above_ground_cut(a, b, radius)
            pipes.append(Pipe(a, b, radius, echo, inside))
        axis = np.array(places)
        said.append(TrueLine(axis - [0, 0, radius], echo, f"{kind}, {'metal' if metal else inside}"))
    return pipes, said


def _above_ground_cut(
    a: tuple[float, float, float], b: tuple[float, float, float], radius: float
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Cut a falling pipe where it would leave the tabled depths, far outside the survey."""
    p, q = np.array(a), np.array(b)
    low, high = radius + 0.05, 2.8
    share = [0.0, 1.0]
    if abs(q[2] - p[2]) > 1e-9:
        at = sorted(((low - p[2]) / (q[2] - p[2]), (high - p[2]) / (q[2] - p[2])))
        share = [max(0.0, at[0]), min(1.0, at[1])]
    ends = [tuple(float(v) for v in p + s * (q - p)) for s in share]
    return ends[0], ends[1]  # type: ignore[return-value]


def _areas(
    rng: np.random.Generator, ground: Ground, size: tuple[float, float], count: int
) -> tuple[Points, tuple[TrueArea, ...]]:
    points, said = NO_POINTS, []
    for _ in range(count):
        kind = str(rng.choice(list(SIZES)))
        for _ in range(20):  # places, until one is free
            place = float(rng.uniform(0.8, size[0] - 0.8)), float(rng.uniform(0.8, size[1] - 0.8))
            part, body = draw_body(rng, kind, place, ground)
            ring = shapely.Polygon(body["ring_m"])
            if ring.within(shapely.box(0, 0, *size)) and all(
                ring.distance(shapely.Polygon(a.ring_m)) > 0.6 for a in said
            ):
                points += part
                said.append(TrueArea(**body))
                break
    return points, tuple(said)


def _targets(
    rng: np.random.Generator,
    ground: Ground,
    size: tuple[float, float],
    count: int,
    areas: tuple[TrueArea, ...],
) -> tuple[Points, Points, tuple[TruePoint, ...]]:
    stones, flat, said = NO_POINTS, NO_POINTS, []
    for _ in range(count):
        place = float(rng.uniform(0.3, size[0] - 0.3)), float(rng.uniform(0.3, size[1] - 0.3))
        more, surfaces, what = draw_target(rng, place, ground)
        if any(shapely.Polygon(a.ring_m).distance(shapely.Point(place)) < 0.6 for a in areas):
            continue
        stones, flat = stones + more, flat + surfaces
        said.append(TruePoint(np.array([*place, what["depth_m"]]), what["reflection"], what["kind"]))
    return stones, flat, tuple(said)


def _outside(rng: np.random.Generator, size: tuple[float, float]) -> tuple[float, float]:
    side, along, off = int(rng.integers(4)), rng.uniform(0, 1), rng.uniform(0.6, 2.5)
    x, y = along * size[0], along * size[1]
    return [(-off, y), (size[0] + off, y), (x, -off), (x, size[1] + off)][side]


def _walk(
    rng: np.random.Generator,
    scene: Scene,
    size: tuple[float, float],
    spacing: float,
    both: bool,
    frequency_mhz: float,
) -> tuple[DrawnLine, ...]:
    habits = Habits(trace_m=0.05, wobble_m=0.012, dropped=0.002)
    levels = Levels(
        white=4e-4 * rng.uniform(0.5, 5.0),
        band=4e-4 * rng.uniform(0.5, 5.0),
        ringing=0.012 * rng.uniform(0.5, 2.5),
        gain_line=float(rng.uniform(0.05, 0.2)),
    )
    plans = lay_lines("Y", size[1], size[0], spacing)
    if both:
        plans += lay_lines("X", size[0], size[1], spacing, along="x")
    samples = round(rng.uniform(40, 50) / INTERVAL_NS)
    out, clock = [], 0.0
    for name, start, end in plans:
        walk = walk_line(rng, name, start, end, habits, clock)
        clock = walk.time_s[-1] + 25.0
        faults = plan_faults(rng, walk.trigger, levels)
        traces = clean_line(
            scene,
            walk.mid_m,
            walk.heading,
            separation_m=SEPARATION_M,
            centre_mhz=frequency_mhz,
            samples=samples,
            interval_ns=INTERVAL_NS,
            time_zero_ns=faults.time_zero_ns,
            source=0.1,
            direct=1.0,
        )
        traces = apply_faults(rng, traces, faults, levels, INTERVAL_NS, frequency_mhz * 1e-3)
        along = np.maximum.accumulate((walk.mid_m - walk.mid_m[0]) @ walk.heading)
        along += 1e-6 * np.arange(len(along))
        # Placed by pegs and wheel: a centimetre or two along, no more than the tape across.
        shift = rng.normal(0, 0.015) * walk.heading
        placed = walk.mid_m + shift
        out.append(DrawnLine(name, placed, along, traces.astype(np.float32)))
    return tuple(out)
