"""Points on lines whose echoes are laid by the textbook hyperbola, t = 2 sqrt(r^2 + z^2) / v (GPG, travel times)."""

from dataclasses import replace

import numpy as np
import pytest

from gridmap.features.apex import apex_pulses, polarity_of
from gridmap.features.find import LISTED_FROM
from gridmap.features.ground import Ground
from gridmap.features.point_settle import part_of
from gridmap.features.points import find_points, point_candidates
from gridmap.features.stack import Gather
from gridmap.image.envelope import envelope
from gridmap.image.migrate import envelope_in_place, migrate_3d
from gridmap.model import CleanLine, Grid, LinearFeature, OutlineFeature, VelocityModel, Volume

V, MHZ, DT, SAMPLES = 0.1, 300.0, 0.2, 130
VELOCITY = VelocityModel.constant(V, 0.003, "stated")
GRID = Grid(0.0, 0.0, 0.1, 31, 31)
DEPTH = np.arange(0.05, 1.25, 0.03)


def ricker(t):
    a = (np.pi * MHZ * 1e-3 * t) ** 2
    return (1 - 2 * a) * np.exp(-a)


def ground_of(things, noise=0.02, both=False, seed=4):
    """A survey of 3 m square, lines 0.25 m apart; `things`: x, y, z, strength; a y of None is a pipe along y."""
    rng = np.random.default_rng(seed)
    along = np.arange(0.0, 3.001, 0.05)
    lines = []
    for k in range(13 * (2 if both else 1)):
        across = np.full_like(along, 0.25 * (k % 13))
        xy = np.stack([across, along] if k < 13 else [along, across], axis=1)
        traces = noise * rng.normal(size=(len(along), SAMPLES))
        for x, y, z, strength in things:
            r = np.hypot(xy[:, 0] - x, xy[:, 1] - y) if y is not None else np.abs(xy[:, 0] - x)
            slant = np.hypot(r, z)
            traces += (
                strength
                * (z / slant)[:, None] ** 2
                * ricker(DT * np.arange(SAMPLES) - 2 * slant[:, None] / V)
            )
        lines.append(
            CleanLine(
                f"L{k}", xy, along, traces.astype(np.float32), np.ones(len(along), bool), 0.0, None, (), 1
            )
        )
    image, _ = migrate_3d(lines, DT, 0.0, VELOCITY, GRID, DEPTH)
    envelope_in_place(image)
    volume = Volume(image, GRID, "depth", float(DEPTH[0]), 0.03, "envelope of the echo after 3D migration")
    return Ground(volume, lines, DT, VELOCITY, MHZ, 0.25)


def stones(count, strength, seed=8):
    rng = np.random.default_rng(seed)
    places = rng.uniform([0, 0, 0.3], [3, 3, 1.1], (count, 3))
    return [(*p, strength * s) for p, s in zip(places, rng.choice([-1, 1], count), strict=True)]


FEW = [
    (0.3 + 0.8 * i, 0.3 + 0.8 * j, 0.4 + 0.15 * ((i + 2 * j) % 5), 0.1) for i in range(4) for j in range(4)
]
"""Small stones, apart from each other."""


def listed(points):
    return [p for p in points if p.confidence >= LISTED_FROM]


def test_a_boulder_is_found_where_it_lies():
    """Its diffraction leads to its place in three dimensions, and every line near it bears witness."""
    points = listed(find_points(ground_of([(1.4, 1.6, 0.7, -1.0), *FEW]), [], [])[0])
    assert np.hypot(*(points[0].xyz_m[:2] - [1.4, 1.6])) < 0.03
    assert abs(points[0].xyz_m[2] - 0.7) < 0.03
    assert points[0].depth_sd_m > 0.01
    assert "lines that pass near it" in points[0].note
    for other in points[1:]:  # nothing that is not there
        assert min(np.linalg.norm(other.xyz_m - thing[:3]) for thing in FEW) < 0.1


def test_no_point_is_told_beside_the_outermost_line(monkeypatch):
    """A line sees what lies left of it where what lies right of it would be: beyond the last line nobody can tell."""
    whole = ground_of([(0.2, 1.6, 0.5, -2.0), *FEW])
    survey = replace(whole, lines=[line for line in whole.lines if line.xy_m[0, 0] >= 0.5])

    def outside():
        return [point for point in find_points(survey, [], [])[0] if point.xyz_m[0] < 0.4]

    assert not outside()
    told = survey.gather.beyond_lines(np.array([[0.39, 1.0], [0.41, 1.0], [1.0, 3.2]]))
    assert told.tolist() == [True, False, True]
    monkeypatch.setattr(Gather, "beyond_lines", lambda self, xy_m: np.zeros(len(xy_m), bool))
    assert outside(), "without the rule there is one to keep out"


def test_a_pipe_is_no_point():
    """Along a pipe no echo comes later: the best pipe explains more than a point does."""
    found = point_candidates(ground_of([(1.4, None, 0.7, -1.0)]))
    near = np.abs(found.xyz_m[:, 0] - 1.4) < 0.1
    inner = near & (np.abs(found.xyz_m[:, 1] - 1.5) < 0.9)
    assert inner.any()
    assert not (found.measures.small[inner] & (found.measures.standing[inner] > -0.5)).any()


def test_ground_full_of_stones_does_not_fill_the_layer():
    """Sixty stones alike are the ground itself: hardly one stands out of the others."""
    points = listed(find_points(ground_of(stones(60, 1.0), noise=0.05), [], [])[0])
    assert len(points) <= 3


def test_noise_alone_holds_no_point():
    """Random traces show no diffraction."""
    assert not listed(find_points(ground_of([], noise=1.0), [], [])[0])


@pytest.mark.parametrize(
    ("strength", "sign", "polarity"),
    [(1, 1, "same"), (-1, 1, "reversed"), (-1, -1, "same"), (1, 0, "unclear")],
)
def test_the_sign_is_told_against_the_pulse_as_recorded(strength, sign, polarity):
    """A recorder that turns everything over changes no polarity; where its sign is not known none is told."""
    ground = ground_of([(1.5, 1.5, 0.6, strength)])
    place = np.array([[1.5, 1.5, 0.6]])
    pulse = apex_pulses(ground.gather, VELOCITY, place, None, 1e3 / MHZ)
    assert polarity_of(pulse.peak, sign) == polarity
    assert abs(pulse.late_ns[0]) < 0.3
    # The peak of the envelope of the trace above it, by another function.
    above = ground.lines[6].traces[30][None]
    assert abs(pulse.peak[0]) == pytest.approx(float(envelope(above)[0, 50:70].max()), rel=0.15)


def test_what_lies_on_listed_things_is_told_once():
    """A point on a line, in an outline or below one is part of it; one high above is not."""
    line = LinearFeature(np.array([[0, 1, 0.6], [3, 1, 0.6]]), 0.03, None, 5.0, 0.9, 9, "unclear")
    ring = np.array([[1.0, 2.0], [2.0, 2.0], [2.0, 2.6], [1.0, 2.6]])
    area = OutlineFeature(ring, 0.7, 0.03, None, 1.0, 0.6, 0.0, 5.0, 0.9)
    assert "line" in part_of(np.array([1.5, 1.2, 0.7]), [line], [area], [])
    assert part_of(np.array([1.5, 1.2, 0.2]), [line], [area], []) is None
    assert "outline" in part_of(np.array([0.8, 2.3, 1.1]), [line], [area], [])
    assert part_of(np.array([0.2, 2.3, 1.1]), [line], [area], []) is None


def test_two_directions_of_walking_are_told():
    """Lines that cross each other above it see it from both sides."""
    points = listed(find_points(ground_of([(1.4, 1.6, 0.7, -1.0)], both=True), [], [])[0])
    assert "both directions" in points[0].note
    one = ground_of([(1.4, 1.6, 0.7, -1.0)])
    assert "both directions" not in find_points(replace(one), [], [])[0][0].note
