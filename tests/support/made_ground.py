"""Ground of our own for tests of positions, seen by zig-zag lines placed at will.

Echoes are a random field with one correlation length across the ground and a Ricker pulse in time: the likeness of two
traces a distance d apart is exp(-d^2 / (4 s^2)) by construction. Pipes are added as hyperbolas,
t = 2 / v * sqrt(d^2 + r^2). Nothing of gridmap is used to make it.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import convolve1d, gaussian_filter, map_coordinates

from gridmap.model import CleanLine

V = 0.1
INTERVAL_NS = 0.2
SAMPLES = 160
CELL_M = 0.1


def ricker(t_ns: np.ndarray, mhz: float = 300.0) -> np.ndarray:
    a = (np.pi * mhz * 1e-3 * t_ns) ** 2
    return (1 - 2 * a) * np.exp(-a)


class Ground:
    """A random field of unit scatter with correlation length `smooth_m`, and pipes straight through."""

    def __init__(
        self, seed: int, size=(6.0, 6.0), smooth_m: float = 0.25, strength: float = 1.0, pipes=()
    ) -> None:
        rng = np.random.default_rng(seed)
        cells = [round((n + 2.0) / CELL_M) for n in size]
        field = gaussian_filter(
            rng.standard_normal((*cells, SAMPLES)), (smooth_m / CELL_M, smooth_m / CELL_M, 0)
        )
        field = convolve1d(field, ricker(INTERVAL_NS * np.arange(-30, 31)), axis=2)
        self.field = (strength * field / field.std()).astype(np.float32)
        self.pipes = pipes  # ((x0, y0), bearing_deg, depth, strength)

    def traces(self, xy: np.ndarray, noise: float, rng: np.random.Generator) -> np.ndarray:
        t = INTERVAL_NS * np.arange(SAMPLES)
        n = len(xy)
        at = np.stack(
            [np.repeat((xy[:, k] + 1.0) / CELL_M, SAMPLES).reshape(n, SAMPLES) for k in (0, 1)]
            + [np.tile(np.arange(SAMPLES, dtype=float), (n, 1))]
        )
        out = map_coordinates(self.field, at, order=1, mode="nearest") + noise * rng.standard_normal(
            (n, SAMPLES)
        )
        for (x0, y0), bearing, depth, strength in self.pipes:
            a = np.radians(bearing)
            r = np.abs((xy[:, 0] - x0) * np.sin(a) - (xy[:, 1] - y0) * np.cos(a))
            slant = np.hypot(r, depth)[:, None]
            out += strength * (depth / slant) ** 2 * ricker(t - 2 * slant / V)
        return out.astype(np.float32)


def zigzag(ground: Ground, *, lines: int = 11, spacing: float = 0.25, length: float = 6.0, start_x: float = 1.0,
           behind: float = 0.0, scales=None, noise: float = 0.3, seed: int = 5, along_x: bool = False,
           one_way: bool = False, prefix: str = "L", wheel_only: bool = False, marks_m: float = 0.0):  # fmt: skip
    """Walk lines along y (or x) up and down; labels lie `behind` metres behind the truth in the walking direction.

    `scales`: wheel error of each line; with `wheel_only` labels run from the start peg at the nominal 5 cm.
    """
    rng = np.random.default_rng(seed)
    out = []
    for i in range(lines):
        up = i % 2 == 0 or one_way
        error = 0.0 if scales is None else scales[i]
        count = round((length - 2 * abs(behind)) / (0.05 * (1 + error)))
        run = np.arange(count) * 0.05
        true = run * (1 + error) + behind + marks_m * rng.standard_normal()
        label = run if wheel_only else true - behind
        across = np.full(count, start_x + spacing * i)
        place = [np.column_stack([across, p if up else length - p]) for p in (true, label)]
        if along_x:
            place = [p[:, ::-1] for p in place]
        out.append(
            CleanLine(
                f"{prefix}{i + 1:02d}", place[1], label.copy(), ground.traces(place[0], noise, rng),
                np.ones(count, bool), 3.0,
            )
        )  # fmt: skip
    return out
