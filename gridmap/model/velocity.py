"""Velocity against depth, with its standard deviation; time to depth and back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridmap.model.arrays import Float64

LIGHT_M_PER_NS = 0.299792458
"""Speed of light in vacuum, metres per nanosecond (exact, SI Brochure, 9th edition)."""


@dataclass(frozen=True, slots=True)
class VelocityModel:
    """Flat layers of constant velocity below the ground surface.

    Attributes
    ----------
    top_m : (layer,) float64
        Depth of the top of each layer, metres; the first is 0.
    velocity_m_per_ns : (layer,) float64
        Velocity in each layer, metres per nanosecond.
    sd_m_per_ns : float
        One standard deviation of the mean velocity, metres per nanosecond.
    source : str
        Where the velocity comes from, in words.
    known_m, known_sd_m : (depth,) float64 or None
        Depths, increasing, and one standard deviation of the depth of an echo that is put there, velocity below
        and above and time zero in it, metres; None: the deviation grows in proportion to depth.
    """

    top_m: Float64
    velocity_m_per_ns: Float64
    sd_m_per_ns: float
    source: str
    known_m: Float64 | None = None
    known_sd_m: Float64 | None = None

    @classmethod
    def constant(cls, velocity_m_per_ns: float, sd_m_per_ns: float, source: str) -> VelocityModel:
        """Make a model of one layer."""
        return cls(np.zeros(1), np.array([velocity_m_per_ns], dtype=float), float(sd_m_per_ns), source)

    def _top_ns(self) -> Float64:
        thickness = np.diff(self.top_m)
        return np.concatenate([[0.0], np.cumsum(2.0 * thickness / self.velocity_m_per_ns[:-1])])

    def two_way_ns(self, depth_m: Float64 | float) -> Float64:
        """Vertical two-way time to each depth, nanoseconds."""
        depth = np.asarray(depth_m, dtype=float)
        layer = np.clip(np.searchsorted(self.top_m, depth, side="right") - 1, 0, None)
        return np.asarray(
            self._top_ns()[layer] + 2.0 * (depth - self.top_m[layer]) / self.velocity_m_per_ns[layer]
        )

    def depth_m(self, two_way_ns: Float64 | float) -> Float64:
        """Depth reached at each vertical two-way time, metres."""
        time = np.asarray(two_way_ns, dtype=float)
        top_ns = self._top_ns()
        layer = np.clip(np.searchsorted(top_ns, time, side="right") - 1, 0, None)
        return np.asarray(self.top_m[layer] + 0.5 * (time - top_ns[layer]) * self.velocity_m_per_ns[layer])

    def rms_m_per_ns(self, depth_m: Float64 | float) -> Float64:
        """Root-mean-square velocity down to each depth, weighted by travel time (Dix 1955)."""
        depth = np.maximum(np.asarray(depth_m, dtype=float), 1e-9)
        inside = np.clip(depth[..., None] - self.top_m, 0.0, np.append(np.diff(self.top_m), np.inf))
        time = inside / self.velocity_m_per_ns
        return np.asarray(np.sqrt((time * self.velocity_m_per_ns**2).sum(-1) / time.sum(-1)))

    def mean_m_per_ns(self, depth_m: float = 1.0) -> float:
        """Mean velocity from the surface to `depth_m`: depth over half the vertical two-way time."""
        return float(2.0 * depth_m / self.two_way_ns(depth_m))

    def depth_sd_m(self, depth_m: Float64 | float) -> Float64:
        """One standard deviation of depth that velocity and time zero cause, metres, at any depth.

        Beyond the last depth that is known it grows in proportion to depth.
        """
        depth = np.asarray(depth_m, dtype=float)
        if self.known_m is None or self.known_sd_m is None:
            return np.asarray(depth * self.sd_m_per_ns / self.mean_m_per_ns())
        beyond = np.maximum(depth / self.known_m[-1], 1.0)
        return np.asarray(np.interp(depth, self.known_m, self.known_sd_m) * beyond)

    def depth_with_sd_m(self, two_way_ns: Float64 | float) -> tuple[Float64, Float64]:
        """Depth reached at each vertical two-way time and its standard deviation, metres."""
        depth = self.depth_m(two_way_ns)
        return depth, self.depth_sd_m(depth)
