"""Even shapes with a blurred edge, and how they change with their place, size, turn and blur."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

import numpy as np
from scipy.special import erf

from gridmap.model import Float64

Form = tuple[Float64, tuple[Float64, ...]]
"""Value, and its changes with u, v, log length, log width and log blur; (cell,) each."""


def form_of(kind: Literal["rectangle", "ellipse"]) -> Callable[[Float64, Float64, float, float, float], Form]:
    """Give the function of a kind of shape: of u and v from its centre along and across it, length, width, blur."""
    return _rectangle if kind == "rectangle" else _ellipse


def _bell(z: Float64) -> Float64:
    """How erf changes: 2 / sqrt(pi) exp(-z^2)."""
    return np.asarray(2.0 / math.sqrt(math.pi) * np.exp(-z * z))


def _rectangle(u: Float64, v: Float64, length: float, width: float, blur: float) -> Form:
    (along, du, dl, db), (across, dv, dw, dc) = (_slab(u, length, blur), _slab(v, width, blur))
    changes = du * across, along * dv, dl * across, along * dw, db * across + along * dc
    return 0.25 * along * across, tuple(0.25 * c for c in changes)


def _slab(u: Float64, side: float, blur: float) -> tuple[Float64, Float64, Float64, Float64]:
    """Twice a blurred slab, and its changes with place, log side and log blur."""
    s = blur * math.sqrt(2)
    far, near = (u + side / 2) / s, (u - side / 2) / s
    bell_far, bell_near = _bell(far), _bell(near)
    return (
        np.asarray(erf(far) - erf(near)),
        (bell_far - bell_near) / s,
        (bell_far + bell_near) * (side / (2 * s)),
        near * bell_near - far * bell_far,
    )


def _ellipse(u: Float64, v: Float64, length: float, width: float, blur: float) -> Form:
    u = u + 1e-9  # the centre itself lies on no ray
    a, b = u / (length / 2), v / (width / 2)
    radius, away = np.hypot(a, b), np.hypot(u, v)
    # Distance to the edge along the ray from the centre: exact for a circle.
    inverse = 1.0 / radius
    s = blur * math.sqrt(2)
    q = away * (1 - inverse) / s
    bell = _bell(q)
    steep = -0.5 * bell / s
    # Changes of the gap: through the distance from the centre, and through the radius.
    by_away, by_radius = (1 - inverse) / away, away * inverse**3
    return np.asarray(0.5 * (1 - erf(q))), (
        steep * (u * by_away + by_radius * a * (2 / length)),
        steep * (v * by_away + by_radius * b * (2 / width)),
        -steep * by_radius * a * a,
        -steep * by_radius * b * b,
        0.5 * bell * q,
    )
