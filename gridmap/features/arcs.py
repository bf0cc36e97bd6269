"""Air-wave echoes: posts, walls and vehicles above ground draw circles about themselves, wider with depth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from gridmap.model import LIGHT_M_PER_NS, Float64


@dataclass(frozen=True, slots=True)
class Circle:
    """A surface object that would explain a path: its place, and how far the path lies off, metres r.m.s."""

    x_m: float
    y_m: float
    off_m: float


def circle_of(xy_m: Float64, two_way_ns: Float64) -> Circle:
    """Fit the surface object whose echo through the air would be seen as this path.

    Parameters
    ----------
    xy_m : (vertex, 2) float64
        Path in plan, local metres.
    two_way_ns : (vertex,) float64
        Time at which it is seen.

    Returns
    -------
    Circle
        Least squares of distance to the object less c t / 2 (an object on the surface answers at 2 d / c).
    """
    radius = 0.5 * LIGHT_M_PER_NS * two_way_ns
    chord = xy_m[-1] - xy_m[0]
    length = float(np.hypot(*chord))
    normal = np.array([-chord[1], chord[0]]) / max(length, 1e-9)
    middle = xy_m.mean(axis=0)

    def misfit(place: Float64) -> Float64:
        return np.asarray(np.hypot(*(xy_m - place).T) - radius)

    def slope(place: Float64) -> Float64:
        away = place - xy_m
        return np.asarray(away / np.maximum(np.hypot(*away.T), 1e-9)[:, None])

    fits = [
        least_squares(misfit, middle + sign * radius.mean() * normal, slope, loss="soft_l1", f_scale=0.1)
        for sign in (-1.0, 1.0)
    ]
    best = min(fits, key=lambda f: float(f.cost))
    off = float(np.sqrt(np.mean(misfit(best.x) ** 2)))
    return Circle(float(best.x[0]), float(best.x[1]), off)


def straight_off_m(xy_m: Float64) -> float:
    """How far a path lies off its own best straight line, metres r.m.s."""
    offset = xy_m - xy_m.mean(axis=0)
    values = np.linalg.eigvalsh(offset.T @ offset)
    return float(np.sqrt(max(values[0], 0.0) / len(xy_m)))
