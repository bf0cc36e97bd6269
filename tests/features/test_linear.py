"""Pipes found from lines to features: echoes by the textbook, t = 2 d / v with d the shortest way to the pipe (GPG)."""

import itertools

import numpy as np
import pytest
import shapely

from gridmap.features.find import LISTED_FROM
from gridmap.features.ground import Ground
from gridmap.features.linear import find_linear
from gridmap.image.migrate import envelope_in_place, migrate_3d
from gridmap.model import CleanLine, Grid, VelocityModel, Volume

V, MHZ, DT, SAMPLES = 0.1, 300.0, 0.2, 150
VELOCITY = VelocityModel.constant(V, 0.003, "stated")
SIZE = 4.0
GRID = Grid(0.0, 0.0, 0.1, 41, 41)
DEPTH = np.arange(0.05, 1.45, 0.03)


def ricker(t):
    a = (np.pi * MHZ * 1e-3 * t) ** 2
    return (1 - 2 * a) * np.exp(-a)


def shortest(xy, path):
    """Least distance from places on the surface to a path (vertex, 3), (place,)."""
    at = np.column_stack([xy, np.zeros(len(xy))])
    best = np.full(len(xy), np.inf)
    for a, b in itertools.pairwise(path):
        share = np.clip((at - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        best = np.minimum(best, np.linalg.norm(at - a - share[:, None] * (b - a), axis=1))
    return best


def ground_of(*paths, both=False, noise=0.15, stripe=None):
    """A survey of 4 m square, lines along y 0.25 m apart; `stripe`: a line whose traces ring at this time, ns."""
    rng = np.random.default_rng(3)
    along = np.arange(0.0, SIZE + 0.001, 0.05)
    lines = []
    for k in range(17 * (2 if both else 1)):
        across = np.full_like(along, 0.25 * (k % 17))
        xy = np.stack([across, along] if k < 17 else [along, across], axis=1)
        traces = rng.normal(size=(len(along), SAMPLES)) @ smooth() * noise
        for path in paths:
            slant = shortest(xy, np.array(path, float))[:, None]
            traces += 0.6 / np.sqrt(slant) * ricker(DT * np.arange(SAMPLES) - 2 * slant / V)
        if stripe is not None and k == 7:
            traces += 0.6 * ricker(DT * np.arange(SAMPLES) - stripe)
        lines.append(CleanLine(f"L{k}", xy, along, traces.astype(np.float32), np.ones(len(along), bool), 0.0))
    image, _ = migrate_3d(lines, DT, 0.0, VELOCITY, GRID, DEPTH)
    envelope_in_place(image)
    volume = Volume(image, GRID, "depth", float(DEPTH[0]), 0.03, "envelope of the echo after 3D migration")
    return Ground(volume, lines, DT, VELOCITY, MHZ, 0.25)


def smooth():
    """Noise of the pulse's band."""
    t = DT * (np.arange(SAMPLES)[:, None] - np.arange(SAMPLES))
    band = ricker(t)
    return band / np.linalg.norm(band, axis=0)


def listed(*paths, **how):
    return [f for f in find_linear(ground_of(*paths, **how), 0.25)[0] if f.confidence >= LISTED_FROM]


def check(feature, path, aside_m=0.05, depth_m=0.05):
    """A feature follows a true path over 90 % of it, to the median tolerances of issue 6."""
    path = np.array(path, float)
    area = shapely.box(0.1, 0.1, SIZE - 0.1, SIZE - 0.1)
    true = shapely.LineString(path[:, :2]).intersection(area)
    places = shapely.line_interpolate_point(true, np.arange(0, true.length, 0.05))
    off = shapely.distance(shapely.LineString(feature.xyz_m[:, :2]), places)
    assert (off <= 0.15).mean() >= 0.9
    assert np.median(off) <= aside_m
    inside = shapely.contains_xy(area, feature.xyz_m[:, :2])
    whole = shapely.LineString(path[:, :2])
    run = np.concatenate([[0.0], np.hypot(*np.diff(path[:, :2], axis=0).T).cumsum()])
    true_z = np.interp(
        shapely.line_locate_point(whole, shapely.points(feature.xyz_m[inside, :2])), run, path[:, 2]
    )
    assert np.median(np.abs(feature.xyz_m[inside, 2] - true_z)) <= depth_m


PERPENDICULAR = [(-2, 2.1, 0.7), (6, 2.1, 0.7)]
OBLIQUE = [(-1, 0.4, 0.7), (5, 3.8, 0.7)]
DIPPING = [(-1, 1.0, 0.45), (5, 2.2, 0.95)]
BENT = [(-2, 1.0, 0.6), (2.0, 1.4, 0.6), (5, 3.6, 0.6)]


@pytest.mark.parametrize("path", [PERPENDICULAR, OBLIQUE, DIPPING, BENT])
def test_a_pipe_is_found_over_its_length(path):
    """Across, oblique, falling or bent by 30 degrees, it is one feature, and every line it crosses shows it."""
    found = listed(path)
    assert len(found) == 1
    check(found[0], path)
    assert found[0].crossings >= 12


def test_a_dip_shows_in_the_ends():
    """The depths of first and last vertex differ as the pipe falls: 1 in 12 here."""
    (found,) = listed(DIPPING)
    fall = np.ptp(found.xyz_m[[0, -1], 2]) / np.ptp(found.xyz_m[[0, -1], 0])
    assert fall == pytest.approx(0.5 / 6.0, abs=0.015)


def test_a_pipe_along_the_lines_is_found_where_both_directions_are_walked():
    """Lines along it do not cross it; those of the other direction do."""
    path = [(1.62, -2, 0.7), (1.62, 6, 0.7)]
    (found,) = listed(path, both=True)
    check(found, path)
    assert found.crossings >= 12


def test_a_pipe_along_the_only_lines_is_traced_if_unsure():
    """No line crosses it, so it may fall short of being listed, but it is traced in its place."""
    path = [(1.62, -2, 0.7), (1.62, 6, 0.7)]
    found = max(find_linear(ground_of(path), 0.25)[0], key=lambda f: f.confidence)
    check(found, path)
    assert found.crossings == 0


def test_a_stripe_on_one_line_is_surely_no_pipe():
    """What rings along one line alone has nothing on the lines beside it."""
    pipe = max(f.confidence for f in find_linear(ground_of([(1.62, -2, 0.7), (1.62, 6, 0.7)]), 0.25)[0])
    stripe = find_linear(ground_of(stripe=14.0), 0.25)[0]
    assert all(f.confidence < min(0.3, pipe) for f in stripe)


def test_pipes_that_cross_at_different_depths_are_two():
    """Each keeps its direction and its depth through the crossing."""
    upper, lower = [(-2, 1.2, 0.5), (6, 2.8, 0.5)], [(-1, 3.6, 0.95), (5, 0.6, 0.95)]
    found = sorted(listed(upper, lower), key=lambda f: float(np.median(f.xyz_m[:, 2])))
    assert len(found) == 2
    check(found[0], upper)
    check(found[1], lower)


def test_noise_holds_no_pipe():
    """Band-limited noise alone lists nothing."""
    assert not listed(noise=1.0)
