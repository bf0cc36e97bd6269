"""How alike values are that lie apart: the covariance that kriging works with."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.model import Float64

Shape = Literal["exponential", "matern32", "matern52"]
SHAPES: tuple[Shape, ...] = ("exponential", "matern32", "matern52")
"""Covariances of rising smoothness: Matern with smoothness 1/2, 3/2 and 5/2."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """Covariance of two values a vector apart, as shares of their variance.

    Attributes
    ----------
    shape : "exponential", "matern32" or "matern52"
        (1 + h + ...) exp(-h) of the distance h in ranges: Matern with smoothness 1/2, 3/2 or 5/2 (Stein 1999
        [memory], scaled so that the exponent is -h).
    range_m : (float, float)
        Length along `bearing_deg` and at right angles to it, metres.
    bearing_deg : float
        Direction in which values stay alike longest, from x anticlockwise, degrees.
    common : float
        Share that all lines see alike.
    way : float
        Share that only parallel lines see alike: an antenna sees what lies along it with other strength than what
        lies across.
    line : float
        Share that only one line sees: coupling, place. What is left of 1 is noise from post to post.
    """

    shape: Shape
    range_m: tuple[float, float]
    bearing_deg: float
    common: float
    way: float = 0.0
    line: float = 0.0

    @property
    def noise(self) -> float:
        """Share that differs from post to post, 0.01 or more."""
        return max(0.01, 1.0 - self.common - self.way - self.line)

    def in_ranges(self, vector_m: Float64) -> Float64:
        """Turn vectors (..., 2) from metres to ranges along and across `bearing_deg`."""
        c, s = math.cos(math.radians(self.bearing_deg)), math.sin(math.radians(self.bearing_deg))
        x, y = vector_m[..., 0], vector_m[..., 1]
        return np.stack([(c * x + s * y) / self.range_m[0], (c * y - s * x) / self.range_m[1]], axis=-1)

    def at(self, lag_m: Float64) -> Float64:
        """Return the correlation of what is alike, for vectors (..., 2) metres."""
        return shape_at(self.shape, np.hypot(*np.moveaxis(self.in_ranges(lag_m), -1, 0)))


def shape_at(shape: Shape, h: Float64) -> Float64:
    """Return the correlation at a distance in ranges."""
    if shape == "exponential":
        return np.asarray(np.exp(-h))
    return np.asarray((1 + h + (h * h / 3 if shape == "matern52" else 0.0)) * np.exp(-h))
