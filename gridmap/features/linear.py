"""Linear features: from the ridges of the volume to traced, judged features."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from gridmap.features.apex import POLARITY_WORDS, apex_pulses, polarity_of
from gridmap.features.arcs import Circle, circle_of, straight_off_m
from gridmap.features.confidence import confidence
from gridmap.features.crests import judge_crests, usual_quality
from gridmap.features.crossings import Crossings, look_at_crossings
from gridmap.features.ground import Ground
from gridmap.features.linear_depth import with_top
from gridmap.features.linear_measures import Measures, Trail, boxes_meet, measure_path, share_near
from gridmap.features.paths import Linking, link_paths
from gridmap.features.ridges import RidgePoints, make_ready, ridge_points
from gridmap.features.trace import Known, Traced, draw_again
from gridmap.model import LIGHT_M_PER_NS, Float64, LinearFeature, RejectedCandidate, VelocityModel
from gridmap.model.feature import Polarity

LEAST_M = 1.0
"""Shorter paths are no linear features, metres."""
WEAKEST_CREST = 2.5
SEED, LEVEL = 4.2, 3.2
FAINTEST_PATH = 3.8
"""Paths whose crests have a lower median are not looked into: none proved real on simulated ground."""
BESIDE_M = 0.3
"""Paths this near in plan run together, metres."""
MOSTLY = 0.6
"""Share of a path that counts as all along."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A traced path with what was measured on it."""

    path: Traced
    crossings: Crossings
    measures: Measures


def trace_candidates(ground: Ground, spacing_m: float) -> list[Candidate]:
    """Trace and measure every path of crests, the strongest first.

    Parameters
    ----------
    ground, spacing_m
        As in `gridmap.features.find.find_features`.
    """
    wavelength_m, gather, velocity = ground.wavelength_m, ground.gather, ground.velocity
    plane = make_ready(ground.volume, wavelength_m, 0.6 * ground.shallow_m)
    crests = ridge_points(plane, (0.5 * wavelength_m, 1.5 * wavelength_m), WEAKEST_CREST)
    if not len(crests.strength):
        return []
    usual = usual_quality(crests.xyz_m, gather, velocity)
    judged = judge_crests(crests, gather, velocity, plane.cell_m, usual)
    known = Known(plane.known, plane.x_first_m, plane.y_first_m, plane.cell_m)
    found = []
    for p in crest_paths(judged, spacing_m):
        if np.median(judged.strength[p]) < FAINTEST_PATH:
            continue
        path = draw_again(judged.xyz_m[p], gather, velocity, wavelength_m, known)
        if path.length_m >= LEAST_M:
            crossings = look_at_crossings(path, ground.walked, gather, velocity, wavelength_m)
            ridge = float(np.median(judged.strength[p]))
            found.append(
                Candidate(path, crossings, measure_path(path, crossings, ridge, gather, velocity, usual))
            )
    return found


def crest_paths(crests: RidgePoints, spacing_m: float) -> list[np.ndarray]:
    """Link crests; gaps are bridged up to one and a half line spacings, at least 0.6 and at most 1 m."""
    gap_m = float(np.clip(1.5 * spacing_m, 0.6, 1.0)) if np.isfinite(spacing_m) else 0.6
    return link_paths(crests, Linking(gap_m, seed=SEED, level=LEVEL), LEAST_M)


def air_wave_posts(candidates: Sequence[Candidate], velocity: VelocityModel) -> list[Circle]:
    """Find surface objects: places about which a path is a clear circle at the speed of light in air."""
    circles = []
    for c in candidates:
        xyz = c.path.xyz_m
        bent = straight_off_m(xyz[:, :2])
        if bent < 0.15 or c.measures.pipe_share >= 0.9:
            continue
        circle = circle_of(xyz[:, :2], velocity.two_way_ns(xyz[:, 2]))
        if circle.off_m <= 0.15 and bent >= 2.0 * circle.off_m:
            circles.append(circle)
    return circles


def on_circle(path_m: Float64, post: Circle, velocity: VelocityModel, off_m: float = 0.4) -> bool:
    """Say whether a path lies where the echo of a surface object is, and runs round it."""
    away = path_m[:, :2] - np.array([post.x_m, post.y_m])
    distance = np.hypot(*away.T)
    radius = 0.5 * LIGHT_M_PER_NS * velocity.two_way_ns(path_m[:, 2])
    along = np.gradient(path_m[:, :2], axis=0)
    radial = np.abs((away * along).sum(1)) / np.maximum(distance * np.hypot(*along.T), 1e-9)
    off = np.abs(distance - radius)
    return bool(
        np.median(off) <= off_m and np.ptp(distance - radius) <= 2 * off_m and np.median(radial) <= 0.5
    )


def sort_out(
    candidates: Sequence[Candidate], velocity: VelocityModel, wavelength_m: float
) -> tuple[list[Candidate], list[RejectedCandidate]]:
    """Take out what tells the same echo twice, echoes through the air, ringing and flat layers.

    Parameters
    ----------
    candidates : sequence of Candidate
        All.
    velocity : VelocityModel
        Behind the depths.
    wavelength_m : float
        In the ground, metres.

    Returns
    -------
    kept : list of Candidate
        What may be a feature, by falling quality.
    rejected : list of RejectedCandidate
        The others, each with its reason; doubles are dropped without a word.
    """
    posts = air_wave_posts(candidates, velocity)
    place = {id(c): n for n, c in enumerate(candidates)}
    meet = boxes_meet([c.path.xyz_m for c in candidates], BESIDE_M)

    trail = cache(lambda n: Trail.of(candidates[n].path.xyz_m))

    def near(c: Candidate, others: Sequence[Candidate]) -> Iterator[tuple[Candidate, Trail]]:
        """Those that may run beside a candidate."""
        row = meet[place[id(c)]]
        return ((k, trail(place[id(k)])) for k in others if row[place[id(k)]])

    rejected: list[RejectedCandidate] = []
    single: list[Candidate] = []
    for c in sorted(
        candidates, key=lambda c: -c.measures.amplitude * c.measures.quality * c.measures.length_m
    ):
        if reason := _no_pipe(c, posts, velocity):
            rejected.append(RejectedCandidate("linear", c.path.xyz_m, reason))
        elif not any(_double(c, t, wavelength_m) for _, t in near(c, single)):
            single.append(c)
    kept: list[Candidate] = []
    for c in sorted(single, key=lambda c: float(np.median(c.path.xyz_m[:, 2]))):
        above = [k for k, t in near(c, kept) if _below(c, t, wavelength_m)]
        if any(_strong_enough(k, c) for k in above):
            reason = "runs below another echo all along: ringing or a multiple"
            rejected.append(RejectedCandidate("linear", c.path.xyz_m, reason))
            continue
        for k in above:
            reason = "runs above a much stronger echo all along: its forerunner"
            rejected.append(RejectedCandidate("linear", k.path.xyz_m, reason))
        kept = [k for k in kept if all(k is not a for a in above)] + [c]
    return sorted(kept, key=lambda c: -c.measures.quality), rejected


def _no_pipe(c: Candidate, posts: Sequence[Circle], velocity: VelocityModel) -> str:
    """Why a candidate is no pipe by itself; empty where nothing speaks against it."""
    m = c.measures
    plain = m.pipe_share >= 0.9 and m.crossed >= 3 and m.seen_share >= 0.8
    if not plain and any(on_circle(c.path.xyz_m, p, velocity) for p in posts):
        return "circle about one place at the speed of light in air: echo of something above ground"
    if m.pipe_share < 0.34:
        return (
            "a flat echo or a wave through the air explains the lines better: layer, stripe or surface object"
        )
    return ""


def _double(c: Candidate, kept: Trail, wavelength_m: float) -> bool:
    """Say whether a path runs with a kept one at the same level."""
    share, deeper = share_near(c.path.xyz_m, kept, BESIDE_M)
    return share >= MOSTLY and abs(deeper) <= 0.4 * wavelength_m


def _below(c: Candidate, other: Trail, wavelength_m: float) -> bool:
    """Say whether a path runs below another for most of its length."""
    share, deeper = share_near(c.path.xyz_m, other, BESIDE_M)
    return share >= MOSTLY and deeper > 0.4 * wavelength_m


def _strong_enough(upper: Candidate, lower: Candidate) -> bool:
    """Say whether the upper echo is strong and sure enough to have repeated itself below."""
    u, b = upper.measures, lower.measures
    return u.amplitude >= 0.25 * b.amplitude and u.quality >= 0.5 * b.quality


def find_linear(ground: Ground, spacing_m: float) -> tuple[list[LinearFeature], list[RejectedCandidate]]:
    """Find pipes, cables, drains and narrow walls.

    Parameters
    ----------
    ground, spacing_m
        As in `gridmap.features.find.find_features`.

    Returns
    -------
    features : list of LinearFeature
        Whatever their confidence, surest first.
    rejected : list of RejectedCandidate
        What did not become one, and why.
    """
    kept, rejected = sort_out(trace_candidates(ground, spacing_m), ground.velocity, ground.wavelength_m)
    found = [linear_feature(c, ground) for c in kept]
    return sorted(found, key=lambda f: (-f.confidence, -f.strength)), rejected


def linear_feature(c: Candidate, ground: Ground) -> LinearFeature:
    """Give a candidate its depth to the top, polarity and confidence."""
    path, m = c.path, c.measures
    pulses = apex_pulses(ground.gather, ground.velocity, path.xyz_m, path.angle_rad, ground.period_ns)
    polarity = polarity_of(pulses.peak, ground.pulse_sign)
    xyz, sd = with_top(
        path, ground.volume, ground.velocity, ground.wavelength_m, ground.frequency_mhz, ground.height_m, polarity,
        ground.shift,
    )  # fmt: skip
    words = evidence_words(m, polarity)
    return LinearFeature(xyz, sd, None, m.ridge, confidence(m), m.shown, polarity, words)


def evidence_words(m: Measures, polarity: Polarity) -> str:
    """Say what a user should know of the evidence."""
    words = f"shown by {m.shown} of the {m.crossed} lines that cross it"
    if m.crossed == 0:
        words = "runs along the lines: no line crosses it, so none bears witness by a hyperbola"
    return "; ".join(part for part in (words, POLARITY_WORDS[polarity]) if part)
