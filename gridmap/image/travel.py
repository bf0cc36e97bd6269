"""Travel times through flat layers: the ray that obeys Snell's law, from the surface to any buried point."""

from __future__ import annotations

import numpy as np

from gridmap.model import Float64, VelocityModel

HALVINGS = 48
"""Steps of the search for a ray: the bracket shrinks below a part in 10^14."""


def one_way_ns(velocity: VelocityModel, depth_m: Float64, offset_m: Float64) -> Float64:
    """One-way time from the surface to points at every depth and horizontal distance.

    Parameters
    ----------
    velocity : VelocityModel
        Flat layers.
    depth_m : (depth,) float64
        Depths, not negative, metres.
    offset_m : (offset,) float64
        Horizontal distances, not negative, metres.

    Returns
    -------
    (depth, offset) float64
        Nanoseconds.

    Notes
    -----
    Snell's law, r(p) = sum h p v / sqrt(1 - p^2 v^2) with h the thickness crossed of each layer (Slotnick 1959
    [memory]). r grows with p; the unknown is the tangent q of the ray's angle in the fastest layer crossed, between 0
    and r / h of that layer.
    """
    depth = np.maximum(np.asarray(depth_m, dtype=float), 1e-6)
    offset = np.asarray(offset_m, dtype=float)
    speed = velocity.velocity_m_per_ns
    if len(speed) == 1:
        return np.asarray(np.hypot(depth[:, None], offset[None, :]) / speed[0])
    inside = np.clip(depth[:, None] - velocity.top_m, 0.0, np.append(np.diff(velocity.top_m), np.inf))
    crossed = inside > 0.0
    fastest = np.where(crossed, speed, 0.0).max(axis=1)
    thick = np.where(speed == fastest[:, None], inside, 0.0).sum(axis=1)
    low = np.zeros((len(depth), len(offset)))
    high = np.broadcast_to(offset / thick[:, None], low.shape)
    for _ in range(HALVINGS):
        q = 0.5 * (low + high)
        short = _reach(q, inside, speed, fastest) < offset
        low, high = np.where(short, q, low), np.where(short, high, q)
    q = 0.5 * (low + high)
    slowness = q / np.sqrt(1 + q * q) / fastest[:, None]
    time: Float64 = np.zeros_like(q)
    for h, v in zip(inside.T, speed, strict=True):
        time += (h / v)[:, None] / _cosine(slowness, q, v, fastest)
    return time


def _cosine(slowness: Float64, q: Float64, v: float, fastest: Float64) -> Float64:
    """Cosine of the ray's angle in a layer; exact in the fastest, where the sine comes near to 1."""
    sine = np.minimum(slowness * v, 1 - 1e-12)
    return np.asarray(np.where(fastest[:, None] == v, 1 / np.sqrt(1 + q * q), np.sqrt(1 - sine * sine)))


def _reach(q: Float64, inside: Float64, speed: Float64, fastest: Float64) -> Float64:
    """Horizontal distance that a ray covers on its way down, (depth, offset) metres."""
    slowness = q / np.sqrt(1 + q * q) / fastest[:, None]
    total = np.zeros_like(q)
    for h, v in zip(inside.T, speed, strict=True):
        total += (
            np.where(fastest[:, None] == v, q, slowness * v / _cosine(slowness, q, v, fastest)) * h[:, None]
        )
    return total
