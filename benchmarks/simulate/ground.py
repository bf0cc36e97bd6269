"""Flat layers and the rays through them: one-way time and absorption from the surface to a buried point."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

LIGHT_M_PER_NS = 0.299792458


@dataclass(frozen=True, slots=True)
class Layer:
    """One flat layer; `thickness_m` of the last layer is not used."""

    name: str
    thickness_m: float
    permittivity: float
    conductivity_ms_per_m: float = 0.0

    @property
    def velocity_m_per_ns(self) -> float:
        """Velocity c / sqrt(permittivity)."""
        return LIGHT_M_PER_NS / math.sqrt(self.permittivity)

    @property
    def absorption_np_per_m(self) -> float:
        """Low-loss absorption (sigma / 2) sqrt(mu / epsilon), nepers per metre."""
        return 0.5 * self.conductivity_ms_per_m * 1e-3 * 376.730 / math.sqrt(self.permittivity)


def trace_rays(
    layers: tuple[Layer, ...], depth_m: np.ndarray, offset_m: np.ndarray
) -> tuple[np.ndarray, ...]:
    """Follow the ray that obeys Snell's law from the surface to each point.

    Parameters
    ----------
    layers : tuple of Layer
        From the surface down.
    depth_m, offset_m : arrays that broadcast
        Depth and horizontal distance of the point, metres.

    Returns
    -------
    time_ns, absorption_np : arrays
        One-way time, and nepers lost on the way.

    Notes
    -----
    With ray parameter p, r(p) = sum h p v / sqrt(1 - p^2 v^2) grows with p. The unknown is q, the tangent of
    the ray's angle in the fastest layer crossed: r(q) >= h_fast q bounds it, and halving the bracket finds
    it.
    """
    depth, offset = np.broadcast_arrays(np.asarray(depth_m, float), np.asarray(offset_m, float))
    tops = np.concatenate([[0.0], np.cumsum([a.thickness_m for a in layers[:-1]])])
    bases = np.append(tops[1:], np.inf)
    inside = [np.clip(depth, top, base) - top for top, base in zip(tops, bases, strict=True)]
    inside[0] = np.maximum(inside[0], 1e-6)
    speed = [a.velocity_m_per_ns for a in layers]
    fastest = np.zeros(depth.shape)
    across = np.ones(depth.shape)
    for h, v in zip(inside, speed, strict=True):
        better = (h > 0) & (v > fastest)
        fastest = np.where(better, v, fastest)
        across = np.where(better, h, across)

    def layer_sines(q):
        p = q / np.sqrt(1 + q * q) / fastest
        return [np.minimum(p * v, 1 - 1e-15) for v in speed]

    low, high = np.zeros(depth.shape), offset / across
    for _ in range(60):
        q = 0.5 * (low + high)
        reach = np.zeros(depth.shape)
        for h, v, s in zip(inside, speed, layer_sines(q), strict=True):
            # In the fastest layer the tangent is q itself; elsewhere it follows from the sine.
            reach += np.where(h > 0, h * np.where(v == fastest, q, s / np.sqrt(1 - s * s)), 0.0)
        low, high = np.where(reach < offset, q, low), np.where(reach < offset, high, q)
    q = 0.5 * (low + high)
    time, lost = np.zeros(depth.shape), np.zeros(depth.shape)
    for layer, h, v, s in zip(layers, inside, speed, layer_sines(q), strict=True):
        path = np.where(h > 0, h * np.where(v == fastest, np.sqrt(1 + q * q), 1 / np.sqrt(1 - s * s)), 0.0)
        time += path / v
        lost += path * layer.absorption_np_per_m
    return time, lost


@dataclass(frozen=True, slots=True)
class Ground:
    """Layers, and tables (depth, offset) of one-way time and absorption, `step_m` apart both ways."""

    layers: tuple[Layer, ...]
    step_m: float
    time_ns: np.ndarray
    absorption_np: np.ndarray

    @classmethod
    def lay(cls, *layers: Layer, depth_m: float = 3.0, offset_m: float = 6.0, step_m: float = 0.01) -> Ground:
        """Trace rays to every node down to `depth_m` and out to `offset_m`."""
        depth = np.arange(0.0, depth_m + step_m, step_m)[:, None]
        offset = np.arange(0.0, offset_m + step_m, step_m)[None, :]
        time, lost = trace_rays(layers, depth, offset)
        return cls(layers, step_m, time, lost)

    def vertical_time_ns(self, depth_m: float) -> float:
        """Two-way time straight down to a depth, without antenna separation."""
        time, _ = trace_rays(self.layers, np.array([depth_m]), np.array([0.0]))
        return 2 * float(time[0])

    def repeat_depth_m(self, depth_m: float) -> float:
        """Depth whose vertical time is twice that of `depth_m`: where a repeat seems to lie."""
        low, high = depth_m, 10 * depth_m
        for _ in range(60):
            middle = 0.5 * (low + high)
            late = self.vertical_time_ns(middle) > 2 * self.vertical_time_ns(depth_m)
            low, high = (low, middle) if late else (middle, high)
        return 0.5 * (low + high)

    def velocity_at(self, depth_m: float) -> float:
        """Velocity of the layer that holds a depth."""
        base = 0.0
        for layer in self.layers[:-1]:
            base += layer.thickness_m
            if depth_m < base:
                return layer.velocity_m_per_ns
        return self.layers[-1].velocity_m_per_ns
