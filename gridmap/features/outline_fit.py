"""A rectangle or an ellipse of even amplitude, its edge blurred by the resolution, fitted to a slab."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import optimize

from gridmap.features.outline_forms import Form, form_of
from gridmap.model import Float32, Float64, Int64

MOST_CELLS = 600
"""Cells fitted; more are thinned evenly."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A fitted shape.

    Attributes
    ----------
    kind : "rectangle" or "ellipse"
        Which.
    x_m, y_m : float
        Centre, metres.
    length_m, width_m : float
        Sides or axes, the longer first, metres.
    bearing_deg : float
        Of the longer, anticlockwise from x, in [0, 180).
    amplitude, ground : float
        Of the even inside, and of the ground around.
    blur_m : float
        Standard deviation of the blur of its edge, metres.
    misfit : float
        Root mean square misfit over the amplitude.
    """

    kind: Literal["rectangle", "ellipse"]
    x_m: float
    y_m: float
    length_m: float
    width_m: float
    bearing_deg: float
    amplitude: float
    ground: float
    blur_m: float
    misfit: float

    def ring_m(self) -> Float64:
        """Its edge, (vertex, 2) metres, anticlockwise, not closed."""
        if self.kind == "rectangle":
            unit = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2.0
        else:
            turn = np.linspace(0, 2 * np.pi, 36, endpoint=False)
            unit = np.stack([np.cos(turn), np.sin(turn)], axis=1) / 2.0
        a = math.radians(self.bearing_deg)
        u, v = unit[:, 0] * self.length_m, unit[:, 1] * self.width_m
        x = self.x_m + u * math.cos(a) - v * math.sin(a)
        y = self.y_m + u * math.sin(a) + v * math.cos(a)
        return np.stack([x, y], axis=1)


def fit_shape(
    kind: Literal["rectangle", "ellipse"],
    x_m: Float64,
    y_m: Float64,
    amplitude: Float32,
    start: tuple[float, float, float, float, float],
    plateau: float,
    ground: float,
    blur_m: tuple[float, float],
) -> Shape:
    """Fit one shape by least squares with a soft loss.

    Parameters
    ----------
    kind : "rectangle" or "ellipse"
        Which.
    x_m, y_m : (cell,) float64
        Where, metres.
    amplitude : (cell,) float32
        Over the usual level.
    start : (x, y, length, width, bearing in radians)
        Where to begin.
    plateau, ground : float
        First guess of the amplitude inside and around.
    blur_m : (low, high)
        Bounds of the blur, metres.

    Returns
    -------
    Shape
        The model is sqrt((A B)^2 + N^2): B is 1 inside and falls through 1/2 at the edge, as the image of a
        plane reflector's edge does; N is the incoherent ground.
    """
    pick = _thin(len(x_m))
    x, y, data = x_m[pick], y_m[pick], amplitude[pick].astype(float)
    form_at = form_of(kind)
    scale = max(plateau, 1e-9)
    data /= scale

    last: list[tuple[bytes, tuple[Float64, Float64, Form]]] = []

    def placed(p: Float64) -> tuple[Float64, Float64, Form]:
        """Form at the cells; the slope is asked for where the misfit was just asked."""
        key = p.tobytes()
        if not last or last[0][0] != key:
            last[:] = [(key, form_placed(p))]
        return last[0][1]

    def form_placed(p: Float64) -> tuple[Float64, Float64, Form]:
        dx, dy, cos, sin = x - p[0], y - p[1], math.cos(p[4]), math.sin(p[4])
        u, v = dx * cos + dy * sin, dy * cos - dx * sin
        return u, v, form_at(u, v, math.exp(p[2]), math.exp(p[3]), math.exp(p[7]))

    def residual(p: Float64) -> Float64:
        return np.asarray(np.hypot(p[5] * placed(p)[2][0], p[6]) - data, dtype=np.float64)

    def slope(p: Float64) -> Float64:
        u, v, (form, (du, dv, dl, dw, db)) = placed(p)
        cos, sin = math.cos(p[4]), math.sin(p[4])
        whole = np.maximum(np.hypot(p[5] * form, p[6]), 1e-12)
        by_form = p[5] ** 2 * form / whole
        changes = dv * sin - du * cos, -du * sin - dv * cos, dl, dw, du * v - dv * u
        columns = [by_form * c for c in changes]
        columns += [p[5] * form**2 / whole, p[6] / whole, by_form * db]
        return np.stack(columns, axis=1)

    x0, y0, length, width, turn = start
    low_b, high_b = (math.log(b) for b in blur_m)
    size = [math.log(length), math.log(width)]
    rest = [1.0, ground / scale, 0.5 * (low_b + high_b)]
    # A square has no axis of its own: begin at the turn that fits best as it stands.
    turns = turn + np.radians((0.0, 30.0, 60.0)) if length < 1.5 * width else [turn]
    guess = min(
        (np.array([x0, y0, *size, t, *rest]) for t in turns), key=lambda p: float(np.abs(residual(p)).sum())
    )
    turn = float(guess[4])
    low = [x0 - length, y0 - length, math.log(0.05), math.log(0.05), turn - 1.6, 0.2, 0.0, low_b]
    high = [
        x0 + length,
        y0 + length,
        math.log(4 * length),
        math.log(4 * length),
        turn + 1.6,
        5.0,
        1.0,
        high_b,
    ]
    got = optimize.least_squares(
        residual,
        np.clip(guess, low, high),
        slope,
        bounds=(low, high),
        loss="soft_l1",
        f_scale=0.1,
        max_nfev=25,
    )
    p = got.x
    length, width, turn = math.exp(p[2]), math.exp(p[3]), p[4]
    if width > length:
        length, width, turn = width, length, turn + math.pi / 2
    misfit = float(np.sqrt(np.mean(got.fun**2)) / max(p[5], 1e-9)) if len(x) else math.inf
    bearing = math.degrees(turn) % 180.0
    return Shape(
        kind, float(p[0]), float(p[1]), length, width, bearing,
        float(p[5] * scale), float(p[6] * scale), math.exp(p[7]), misfit,
    )  # fmt: skip


def _thin(count: int) -> Int64:
    """Spread at most `MOST_CELLS` picks evenly over cells in order, in step with no row (golden ratio)."""
    if count <= MOST_CELLS:
        return np.arange(count)
    return np.unique((np.arange(MOST_CELLS) * 0.6180339887 % 1.0 * count).astype(np.int64))
