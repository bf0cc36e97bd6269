"""The similarity that takes the local grid to the map: shift, turn and one scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from gridmap.model.arrays import Float64


@dataclass(frozen=True, slots=True)
class Similarity:
    """E = e0 + a x - b y; N = n0 + b x + a y.

    Attributes
    ----------
    e0_m, n0_m : float
        Map co-ordinates of the local origin, metres.
    a, b : float
        Scale times cosine and scale times sine of the anticlockwise turn of local x from east.
    """

    e0_m: float
    n0_m: float
    a: float
    b: float

    @property
    def scale(self) -> float:
        """Map metres for one local metre."""
        return math.hypot(self.a, self.b)

    @property
    def rotation_deg(self) -> float:
        """Anticlockwise turn of local x from east, degrees."""
        return math.degrees(math.atan2(self.b, self.a))

    def to_map(self, xy_m: Float64) -> Float64:
        """Take (..., 2) local x, y to (..., 2) easting, northing, metres."""
        x, y = xy_m[..., 0], xy_m[..., 1]
        return np.stack([self.e0_m + self.a * x - self.b * y, self.n0_m + self.b * x + self.a * y], axis=-1)

    def to_local(self, en_m: Float64) -> Float64:
        """Take (..., 2) easting, northing to (..., 2) local x, y, metres."""
        e, n = en_m[..., 0] - self.e0_m, en_m[..., 1] - self.n0_m
        square = self.a * self.a + self.b * self.b
        return np.stack([(self.a * e + self.b * n) / square, (self.a * n - self.b * e) / square], axis=-1)


IDENTITY = Similarity(0.0, 0.0, 1.0, 0.0)
