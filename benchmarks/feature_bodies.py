"""Bodies with an area and compact targets, drawn at random for `benchmarks.feature_ground`."""

from __future__ import annotations

import math

import numpy as np

from benchmarks.simulate.ground import LIGHT_M_PER_NS, Ground
from benchmarks.simulate.objects import NO_POINTS, Points, surface_patch

SIZES = {
    "tank": ((1.0, 2.2), (0.8, 1.4), (0.4, 1.0)),
    "chamber": ((0.7, 1.3), (0.6, 1.1), (0.3, 0.8)),
    "slab": ((0.7, 2.0), (0.5, 1.0), (0.3, 0.8)),
    "pit": ((0.8, 2.0), (0.6, 1.2), (0.4, 0.9)),
    "lid": ((0.7, 1.2), (0.7, 1.2), (0.3, 0.7)),
    "footing": ((2.5, 4.5), (0.45, 0.8), (0.35, 0.7)),
}
"""Length, width and depth of the top, least and most, metres."""


def reflection(outside: float, inside: float | None) -> float:
    """Fresnel's coefficient straight down, of relative permittivities; None inside is metal."""
    if inside is None:
        return -1.0
    return (math.sqrt(outside) - math.sqrt(inside)) / (math.sqrt(outside) + math.sqrt(inside))


def draw_body(
    rng: np.random.Generator, kind: str, place: tuple[float, float], ground: Ground
) -> tuple[Points, dict[str, object]]:
    """One body: its top, and what comes back from below it; its ring, depth, thickness and coefficient in words."""
    yaw = float(rng.uniform(0, 180))
    length, width, top = (float(rng.uniform(*s)) for s in SIZES[kind])
    width = length if kind == "lid" else min(width, length)
    eps = (LIGHT_M_PER_NS / ground.velocity_at(top)) ** 2
    inside = {"tank": None, "chamber": 1.0, "slab": 5.5, "pit": eps * float(rng.choice([0.72, 1.4])), "lid": None,
              "footing": eps * 0.68}[kind]  # fmt: skip
    if kind == "tank" and rng.random() < 0.4:
        inside = 80.0
    r = reflection(eps, inside)
    rough = {"pit": 0.03, "footing": 0.03}.get(kind, 0.005)
    loss = 0.1 if kind in ("pit", "footing") else 0.0
    thick = {"slab": 0.12, "lid": 0.02}.get(kind, float(rng.uniform(0.3, 0.8)))

    def patch(depth_m: float, coefficient: float) -> Points:
        return surface_patch(
            ground, place, (length, width), yaw, depth_m, coefficient,
            spacing_m=0.025, roughness_m=rough, missing=loss, rng=rng,
        )  # fmt: skip

    points = patch(top, r)
    if inside is None:
        points += patch(ground.repeat_depth_m(top), -0.15)
    else:
        share = 0.3 if inside > 40 else 0.7 * (1 - r * r)
        points += patch(min(_apparent(top, thick, ground, inside), 2.8), -r * share)
    if kind == "lid":
        keep = np.hypot(*(points.xyz_m[:, :2] - np.array(place)).T) <= length / 2
        points = Points(points.xyz_m[keep], points.strength[keep])
        turn = np.linspace(0, 2 * math.pi, 40, endpoint=False)
        ring = np.array(place) + length / 2 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    else:
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * [length, width]
        c, s = math.cos(math.radians(yaw)), math.sin(math.radians(yaw))
        ring = corners @ np.array([[c, s], [-s, c]]) + place
    said = {"kind": kind, "ring_m": ring, "depth_m": top, "reflection": r,
            "thickness_m": None if inside is None else thick}  # fmt: skip
    return points, said


def _apparent(top_m: float, thick_m: float, ground: Ground, inside: float) -> float:
    """Depth at which the base of a body of permittivity `inside` seems to lie."""
    return top_m + thick_m * ground.velocity_at(top_m) * math.sqrt(inside) / LIGHT_M_PER_NS


def draw_target(
    rng: np.random.Generator, place: tuple[float, float], ground: Ground
) -> tuple[Points, Points, dict[str, object]]:
    """One compact target: a boulder, or a small flat thing such as the base of a post.

    Returns
    -------
    stones, surfaces : Points
        A boulder's near face, R a / 2 at its top (a mirror sphere's echo is R a / (2 d^2)), and its far face; a flat
        thing's elements.
    said : dict
        Kind, depth of its top, reflection coefficient.
    """
    depth = float(rng.uniform(0.3, 1.1))
    eps = (LIGHT_M_PER_NS / ground.velocity_at(depth)) ** 2
    inside = [5.0, 1.0, None][int(rng.choice(3, p=[0.5, 0.2, 0.3]))]
    r = reflection(eps, inside)
    if rng.random() < 0.5:
        a = float(rng.uniform(0.08, 0.25))
        xyz, strength = [[*place, depth]], [r * a / 2]
        if inside is not None:
            xyz.append([*place, min(_apparent(depth, 2 * a, ground, inside), 2.8)])
            strength.append(-0.6 * (1 - r * r) * r * a / 2)
        said = {"kind": "boulder", "depth_m": depth, "reflection": r}
        return Points(np.array(xyz), np.array(strength)), NO_POINTS, said
    sides = float(rng.uniform(0.12, 0.35)), float(rng.uniform(0.12, 0.35))
    flat = surface_patch(ground, place, sides, float(rng.uniform(0, 180)), depth, r, spacing_m=0.02)
    return NO_POINTS, flat, {"kind": "flat", "depth_m": depth, "reflection": r}
