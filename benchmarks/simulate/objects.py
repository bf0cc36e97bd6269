"""What lies in the ground, and beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from benchmarks.simulate.ground import LIGHT_M_PER_NS, Ground


@dataclass(frozen=True, slots=True)
class Pipe:
    """A straight pipe that runs through, from axis point to axis point (x, y, z), metres.

    `inside_permittivity` None means that nothing comes back from its far wall (metal); otherwise the far wall
    echoes with the opposite sign, a little later.
    """

    start: tuple[float, float, float]
    end: tuple[float, float, float]
    radius_m: float
    reflection: float
    inside_permittivity: float | None = None
    far_wall_share: float = 0.6

    @property
    def far_wall_delay_ns(self) -> float:
        """Time to cross the pipe and back."""
        if self.inside_permittivity is None:
            return 0.0
        return 4 * self.radius_m * math.sqrt(self.inside_permittivity) / LIGHT_M_PER_NS


@dataclass(frozen=True, slots=True)
class Interface:
    """A gently dipping, gently waving boundary: depth = depth_m + dip . (x, y) + waves.

    `waves` holds rows of (height m, wave number x, wave number y in rad/m, phase).
    """

    depth_m: float
    dip_x: float
    dip_y: float
    reflection: float
    waves: np.ndarray = field(default_factory=lambda: np.zeros((0, 4)))


@dataclass(frozen=True, slots=True)
class Points:
    """Point scatterers: (point, 3) places and (point,) strengths (metres; square metres x R for surfaces)."""

    xyz_m: np.ndarray
    strength: np.ndarray

    def __add__(self, other: Points) -> Points:
        return Points(np.vstack([self.xyz_m, other.xyz_m]), np.concatenate([self.strength, other.strength]))


NO_POINTS = Points(np.zeros((0, 3)), np.zeros(0))


@dataclass(frozen=True, slots=True)
class Post:
    """A post that stands above ground; its echo comes through the air."""

    x_m: float
    y_m: float
    strength: float


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that echoes: `surfaces` with the pulse's derivative, all else with the pulse."""

    ground: Ground
    pipes: tuple[Pipe, ...] = ()
    interfaces: tuple[Interface, ...] = ()
    surfaces: Points = NO_POINTS
    stones: Points = NO_POINTS
    posts: tuple[Post, ...] = ()


def surface_patch(
    ground: Ground,
    centre: tuple[float, float],
    size_m: tuple[float, float],
    yaw_deg: float,
    depth_m: float,
    reflection: float,
    *,
    spacing_m: float = 0.02,
    roughness_m: float = 0.0,
    missing: float = 0.0,
    rng: np.random.Generator | None = None,
) -> Points:
    """Cut a flat (or rough) rectangle into surface elements.

    Each element weighs R dA / (2 pi v). Summed with the pulse's derivative over 1 / (r_source r_receiver)
    this is Kirchhoff's integral: over a wide plane it gives R f(t - 2h/v) / 2h, the mirror image, and its rim
    gives the edge diffractions.
    """
    nu, nv = (max(1, round(s / spacing_m)) for s in size_m)
    u = (np.arange(nu) + 0.5) / nu * size_m[0] - size_m[0] / 2
    v = (np.arange(nv) + 0.5) / nv * size_m[1] - size_m[1] / 2
    u, v = (a.ravel() for a in np.meshgrid(u, v, indexing="ij"))
    cos, sin = math.cos(math.radians(yaw_deg)), math.sin(math.radians(yaw_deg))
    z = np.full(u.shape, depth_m)
    weight = np.full(u.shape, reflection * size_m[0] * size_m[1] / (nu * nv))
    if rng is not None:
        # Rubble: lumps of about 0.2 m stand at their own heights, and some are missing.
        lump = (np.floor((u + size_m[0]) / 0.2) * 1000 + np.floor((v + size_m[1]) / 0.2)).astype(int)
        _, which = np.unique(lump, return_inverse=True)
        z = z + rng.normal(0.0, roughness_m, which.max() + 1)[which]
        weight = weight * (rng.random(which.max() + 1) >= missing)[which]
    weight = weight / (2 * math.pi * ground.velocity_at(depth_m))
    place = np.stack([centre[0] + cos * u - sin * v, centre[1] + sin * u + cos * v, z], axis=1)
    return Points(place, weight)


def scatter_stones(
    rng: np.random.Generator,
    size_m: tuple[float, float],
    per_m2: float,
    depth_m: tuple[float, float],
    strength_m: float,
    margin_m: float = 1.0,
) -> Points:
    """Strew stones of both signs, most of them weak, uniformly in area and depth."""
    count = rng.poisson(per_m2 * (size_m[0] + 2 * margin_m) * (size_m[1] + 2 * margin_m))
    low = np.array([-margin_m, -margin_m, depth_m[0]])
    high = np.array([size_m[0] + margin_m, size_m[1] + margin_m, depth_m[1]])
    place = rng.uniform(low, high, (count, 3))
    sign = np.where(rng.random(count) < 0.7, -1.0, 1.0)
    # Shallow stones are small: strength grows with depth up to half a metre, so that the near field is not
    # overrun.
    small = np.minimum(1.0, (place[:, 2] / 0.5) ** 1.5)
    return Points(place, sign * small * strength_m * rng.lognormal(0.0, 0.6, count))


def waving(
    rng: np.random.Generator, height_m: float, shortest_m: float, longest_m: float, count: int = 5
) -> np.ndarray:
    """Rows of waves for an `Interface`: random directions, lengths within bounds, total r.m.s. `height_m`."""
    length = np.exp(rng.uniform(np.log(shortest_m), np.log(longest_m), count))
    angle, phase = rng.uniform(0, 2 * np.pi, (2, count))
    number = 2 * np.pi / length
    height = np.full(count, height_m * math.sqrt(2 / count))
    return np.stack([height, number * np.cos(angle), number * np.sin(angle), phase], axis=1)
