"""Linear features: from the ridges of the volume to traced, judged features."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from gridmap.features.arcs import Circle, circle_of, straight_off_m
from gridmap.features.paths import Linking, link_paths
from gridmap.features.ridges import make_ready, ridge_points
from gridmap.model import Float64, LinearFeature, RejectedCandidate, VelocityModel, Volume

LEAST_M = 1.0
"""Shorter paths are no linear features, metres."""
NODE_M = 0.2
"""Distance between the vertices of a traced feature, metres."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A traced path before judgement: (vertex, 3) local x, y, depth of its echo, and strength at each vertex."""

    xyz_m: Float64
    strength: Float64

    @property
    def length_m(self) -> float:
        """Length in plan, metres."""
        return float(np.hypot(*np.diff(self.xyz_m[:, :2], axis=0).T).sum())

    @property
    def mean_strength(self) -> float:
        """Median strength along the path."""
        return float(np.median(self.strength))


def trace_candidates(
    volume: Volume, wavelength_m: float, spacing_m: float, shallow_m: float
) -> list[Candidate]:
    """Trace every path of crests in the volume, the strongest first."""
    plane = make_ready(volume, wavelength_m, 0.6 * shallow_m)
    crests = ridge_points(plane, (0.5 * wavelength_m, 1.5 * wavelength_m), 3.0)
    gap_m = float(np.clip(1.5 * spacing_m, 0.6, 1.0)) if np.isfinite(spacing_m) else 0.6
    paths = link_paths(crests, Linking(gap_m), LEAST_M)
    return [_even(crests.xyz_m[p], crests.strength[p]) for p in paths]


def _even(xyz_m: Float64, strength: Float64) -> Candidate:
    """Vertices `NODE_M` apart, smoothed so that cells do not show."""
    along = np.concatenate([[0.0], np.hypot(*np.diff(xyz_m[:, :2], axis=0).T).cumsum()])
    at = np.linspace(0.0, along[-1], max(2, round(along[-1] / NODE_M) + 1))
    even = np.stack([np.interp(at, along, c) for c in xyz_m.T], axis=1)
    even = ndimage.gaussian_filter1d(even - _chord(even), 1.5, axis=0, mode="nearest") + _chord(even)
    return Candidate(even, np.interp(at, along, strength))


def _chord(xyz_m: Float64) -> Float64:
    share = np.linspace(0.0, 1.0, len(xyz_m))[:, None]
    return np.asarray(xyz_m[:1] * (1 - share) + xyz_m[-1:] * share)


def air_wave_posts(candidates: Sequence[Candidate], velocity: VelocityModel) -> list[Circle]:
    """Find surface objects: places about which at least two paths are circles, or one is a clear one."""
    circles = []
    for c in candidates:
        circle = circle_of(c.xyz_m[:, :2], velocity.two_way_ns(c.xyz_m[:, 2]))
        bent = straight_off_m(c.xyz_m[:, :2])
        if circle.off_m <= 0.15 and bent >= 2.0 * circle.off_m and bent >= 0.15:
            circles.append(circle)
    return circles


def on_circle(candidate: Candidate, post: Circle, velocity: VelocityModel, off_m: float = 0.4) -> bool:
    """Say whether a path lies where the echo of a surface object is, and runs round it."""
    xy = candidate.xyz_m[:, :2]
    away = xy - np.array([post.x_m, post.y_m])
    distance = np.hypot(*away.T)
    radius = 0.5 * 0.299792458 * velocity.two_way_ns(candidate.xyz_m[:, 2])
    along = np.gradient(xy, axis=0)
    radial = np.abs((away * along).sum(1)) / np.maximum(distance * np.hypot(*along.T), 1e-9)
    return bool(
        np.median(np.abs(distance - radius)) <= off_m
        and np.ptp(distance - radius) <= 2 * off_m
        and np.median(radial) <= 0.5
    )


def beneath(candidate: Candidate, upper: Candidate, near_m: float) -> bool:
    """Say whether a path runs below another for most of its length: the same echo again, ringing or a multiple."""
    off, nearest = cKDTree(upper.xyz_m[:, :2]).query(candidate.xyz_m[:, :2])
    below = candidate.xyz_m[:, 2] > upper.xyz_m[nearest, 2] + 0.03
    return bool(((off <= near_m) & below).mean() >= 0.6)


def find_linear(
    volume: Volume, velocity: VelocityModel, wavelength_m: float, spacing_m: float, shallow_m: float
) -> tuple[list[LinearFeature], list[RejectedCandidate]]:
    """Find pipes, cables, drains and walls."""
    candidates = trace_candidates(volume, wavelength_m, spacing_m, shallow_m)
    posts = air_wave_posts(candidates, velocity)
    kept: list[Candidate] = []
    rejected: list[RejectedCandidate] = []
    for c in sorted(candidates, key=lambda c: -c.mean_strength):
        reason = ""
        if any(on_circle(c, p, velocity) for p in posts):
            reason = "circle about one place at the speed of light in air: echo of something above ground"
        elif any(beneath(c, k, 0.3) for k in kept):
            reason = "runs below a stronger echo: ringing or a multiple"
        if reason:
            rejected.append(RejectedCandidate("linear", c.xyz_m, reason))
        else:
            kept.append(c)
    return [_feature(c, velocity) for c in kept], rejected


def _feature(c: Candidate, velocity: VelocityModel) -> LinearFeature:
    sd = float(np.hypot(velocity.depth_sd_m(float(c.xyz_m[:, 2].mean())), 0.03))
    confidence = float(1.0 / (1.0 + np.exp(-(c.mean_strength - 7.5) / 1.0)))
    return LinearFeature(c.xyz_m, sd, None, c.mean_strength, confidence, 0, "unclear")
