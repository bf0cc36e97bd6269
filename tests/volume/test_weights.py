"""Interpolation weights: exact where they must be, and better than triangles where it counts."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.interpolate import griddata

from gridmap.model import Grid
from gridmap.site.records import Interpolation
from gridmap.volume.build import Gridding
from gridmap.volume.interpolate import find_weights
from gridmap.volume.kriging import local_kriging
from gridmap.volume.likeness import Likeness
from gridmap.volume.search import quadrant_neighbours
from gridmap.volume.sources import Sources, join_in_cells, plain_sources, sources_near

RNG = np.random.default_rng(2)
GRID = Grid(0.0, 0.0, 0.05, 61, 61)
SMOOTH = Likeness("matern52", (0.2, 0.2), 0.0, 0.99)
METHODS: tuple[Interpolation, ...] = ("kriging", "linear", "inverse_distance", "nearest")


def walked(spacing=0.25, step=0.02, y_to=3.001):
    """Lines along x: places (point, 2) and the number of each point's line."""
    x = np.arange(0, 3.001, step)
    lines = [np.stack([x, np.full_like(x, y)], axis=1) for y in np.arange(0, y_to, spacing)]
    return np.concatenate(lines), np.repeat(np.arange(len(lines)), len(x))


def sources(spacing=0.25, step=0.02, y_to=3.001) -> Sources:
    xy, line = walked(spacing, step, y_to)
    return replace(plain_sources(xy, step), line=line, line_m=spacing)


def waves(xy, wavelength, count=30, seed=4):
    """Plane waves of one wavelength in all directions, as in a study of interpolation error (speed.md)."""
    rng = np.random.default_rng(seed)
    angle, phase = rng.uniform(0, 2 * np.pi, (2, count))
    k = 2 * np.pi / wavelength
    out = sum(
        np.cos(k * (xy[..., 0] * np.cos(a) + xy[..., 1] * np.sin(a)) + p)
        for a, p in zip(angle, phase, strict=True)
    )
    return out / np.sqrt(count / 2)


def cells():
    return np.stack(np.meshgrid(GRID.x_m(), GRID.y_m()), axis=-1)


def over(where, method="kriging", likeness=SMOOTH, limit_m=0.3):
    return Gridding.over(where, GRID, likeness, limit_m, method)


def spread(where, values, **more):
    g = over(where, **more)
    return g.between.apply(g.means.apply(np.asarray(values, np.float32)))


@pytest.mark.parametrize("method", METHODS)
def test_rows_sum_to_one_so_a_level_stays_level(method):
    """No way to interpolate has a bias: a constant comes back as itself (for kriging: Matheron 1963)."""
    where = sources()
    assert spread(where, np.full((len(where), 2), 3.5), method=method) == pytest.approx(3.5, abs=1e-4)


def test_triangles_are_those_of_scipy():
    """Away from ties of the triangulation the linear way is `scipy.interpolate.griddata` (reference library)."""
    xy = RNG.uniform(0, 3, (400, 2))
    values = RNG.normal(size=400)
    target = RNG.uniform(0.3, 2.7, (500, 2))
    got = find_weights("linear", plain_sources(xy, 0.05), target, 9.0, SMOOTH)[0]
    expected = griddata(xy, values, target, method="linear")
    assert got.apply(values[:, None].astype(np.float32))[:, 0] == pytest.approx(expected, abs=1e-5)


def test_kriging_is_the_textbook_solution():
    """Weights and error of 16 points around a place solve the ordinary kriging system (Matheron 1963) in NumPy."""
    likeness = Likeness("matern32", (0.9, 0.3), 30.0, 0.6, 0.2, 0.1)
    rng = np.random.default_rng(5)
    # On a ring, four to a quadrant, so that neither quadrants nor thinning leave one out.
    angle = np.pi / 8 * (np.arange(16) + 0.5) + rng.uniform(-0.03, 0.03, 16)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * rng.uniform(0.97, 1.0, (16, 1))
    points = replace(
        plain_sources(ring, 0.05), line=np.arange(16) % 5, way=np.arange(16) % 2, noise=rng.uniform(0.5, 2, 16),
        ways=2,
    )  # fmt: skip
    weights, sd = local_kriging(points, np.zeros((1, 2)), np.array([0]), likeness, neighbours=16)
    at = likeness.at(ring[:, None] - ring[None])
    same_way = points.way[:, None] == points.way[None]
    same_line = same_way & (points.line[:, None] == points.line[None])
    system = np.ones((17, 17))
    system[:16, :16] = at * (0.6 + 0.2 * same_way + 0.1 * same_line)
    system[np.arange(16), np.arange(16)] = 0.9 + 0.1 * points.noise
    system[16, 16] = 0
    right = np.append(0.7 * likeness.at(ring), 1.0)
    expected = np.linalg.solve(system, right)
    got = np.zeros(16)
    got[weights.index] = weights.value
    assert len(weights.index) == 16
    assert got == pytest.approx(expected[:16], abs=1e-5)
    assert sd[0] == pytest.approx(np.sqrt(0.7 - expected @ right), abs=1e-4)


def test_no_worse_than_triangles_on_random_ground():
    """RMS error at 0.6 m wavelength and 0.25 m lines is below scipy.interpolate.griddata's (reference library)."""
    where = sources()
    truth = waves(cells(), 0.6)
    got = spread(where, waves(where.xy_m, 0.6)[:, None])[:, 0].reshape(GRID.shape)
    linear = griddata(where.xy_m, waves(where.xy_m, 0.6), cells(), method="linear")
    inner = (slice(5, -5), slice(5, -5))
    ours = np.sqrt(np.mean((got - truth)[inner] ** 2))
    theirs = np.sqrt(np.nanmean((linear - truth)[inner] ** 2))
    assert ours < 0.75 * theirs


def test_error_told_is_the_error_made():
    """The standard error is the RMS error on fields drawn with the covariance itself, within a fifth."""
    likeness = Likeness("exponential", (0.5, 0.5), 0.0, 0.95)
    where = sources(spacing=0.5, step=0.1)
    target = RNG.uniform(0.3, 2.7, (60, 2))
    every = np.concatenate([where.xy_m, target])
    covariance = 0.95 * likeness.at(every[:, None] - every[None]) + 1e-9 * np.eye(len(every))
    fields = np.linalg.cholesky(covariance) @ RNG.normal(size=(len(every), 400))
    seen = fields[: len(where)] + np.sqrt(0.05) * RNG.normal(size=(len(where), 400))
    weights, sd = find_weights("kriging", where, target, 9.0, likeness)
    made = np.sqrt(((weights.apply(seen.astype(np.float32)) - fields[len(where) :]) ** 2).mean(axis=1))
    assert made == pytest.approx(sd, rel=0.2)


def test_all_samples_at_once_equals_one_by_one():
    """The product over 5 samples is the same as 5 products."""
    where = sources()
    values = RNG.normal(size=(len(where), 5))
    together = spread(where, values)
    apart = np.concatenate([spread(where, values[:, [i]]) for i in range(5)], axis=1)
    assert together == pytest.approx(apart, abs=1e-5)


@pytest.mark.parametrize("method", METHODS)
def test_cells_far_from_any_trace_are_blank(method):
    """Beyond the limit there is no value: nothing is invented."""
    where = sources(y_to=1.6)
    got = spread(where, np.ones((len(where), 1)), limit_m=0.2, method=method)[:, 0].reshape(GRID.shape)
    far = GRID.y_m() > where.xy_m[:, 1].max() + 0.21
    assert np.isnan(got[far]).all()
    assert np.isfinite(got[GRID.y_m() <= where.xy_m[:, 1].max()]).all()


@pytest.mark.parametrize("method", ["kriging", "linear", "inverse_distance"])
def test_neighbours_come_from_both_sides(method):
    """Half-way between lines 0.5 m apart with posts each 0.02 m, a slope across comes back: no streaks."""
    where = sources(spacing=0.5)
    got = spread(where, where.xy_m[:, [1]], method=method)[:, 0].reshape(GRID.shape)
    half_way = [15, 25, 35, 45]
    assert got[half_way, 30] == pytest.approx(GRID.y_m()[half_way], abs=0.02)


def test_what_one_line_alone_sees_does_not_stand_out():
    """Where lines disagree by a share of their own, one odd line is drawn to its neighbours: no streak of full size."""
    where = sources()
    values = (where.line == 6).astype(float)[:, None]
    streak = spread(where, values, likeness=Likeness("exponential", (0.6, 0.6), 0.0, 0.69, 0.0, 0.3))
    full = spread(where, values, likeness=Likeness("exponential", (0.6, 0.6), 0.0, 0.99))
    on = 30 * GRID.columns + 30
    assert full[on, 0] > 0.95
    assert streak[on, 0] < 0.75


def test_noisy_line_counts_less():
    """Between a quiet and a noisy line the quiet one has the larger weight."""
    where = sources()
    odd = replace(where, noise=np.where(where.line % 2 == 0, 1.0, 8.0))
    likeness = Likeness("exponential", (0.6, 0.6), 0.0, 0.7)
    half_way = np.array([[1.5, 1.625]])
    weights, _ = find_weights("kriging", odd, half_way, 9.0, likeness)
    of_noisy = weights.value[odd.line[weights.index] % 2 == 1].sum()
    assert of_noisy < 0.4


def test_two_directions_are_merged_evenly():
    """Where two directions see half of the variance each their own way, a crossing takes both alike."""
    x, n = np.arange(0, 3.001, 0.05), 61
    along = [np.stack([x, np.full(n, y)], 1) for y in np.arange(0, 3.001, 0.25)]
    across = [np.stack([np.full(n, y), x], 1) for y in np.arange(0, 3.001, 0.25)]
    xy = np.concatenate([*along, *across])
    way = np.repeat([0, 1], 13 * n)
    where = replace(plain_sources(xy, 0.05), line=np.repeat(np.arange(26), n), way=way, ways=2, line_m=0.25)
    likeness = Likeness("exponential", (0.5, 0.5), 0.0, 0.45, 0.45, 0.0)
    at = np.array([[1.5, 1.5], [1.625, 1.625]])
    got = find_weights("kriging", where, at, 9.0, likeness)[0].apply(way[:, None].astype(np.float32))
    assert got == pytest.approx(0.5, abs=0.02)


def test_a_tile_has_the_same_weights_as_the_whole():
    """Weights of a part of the map from the posts around it equal those of the whole, bit for bit."""
    where = sources()
    whole = over(where)
    tile = Grid(0.0, 43 * 0.05, 0.05, 18, 61)
    near, index = sources_near(where, tile, 1.5)
    part = Gridding.over(near, tile, SMOOTH, 0.3)
    values = RNG.normal(size=(len(where), 3)).astype(np.float32)
    from_part = part.between.apply(part.means.apply(values[index]))
    from_whole = whole.between.apply(whole.means.apply(values)).reshape(*GRID.shape, 3)[43:61]
    assert len(near) < len(where)
    assert np.array_equal(from_part, from_whole.reshape(-1, 3))
    assert np.array_equal(part.sd, whole.sd[43:61])


def test_search_finds_what_a_plain_sort_finds():
    """Nearest first, a quarter from each quadrant, spread by a share of the distance: as by brute force."""
    xy = RNG.uniform(0, 2, (300, 2))
    target = RNG.uniform(-0.5, 2.5, (40, 2))
    index, used = quadrant_neighbours(xy, target, np.arange(40), 8)
    for t, row, n in zip(target, index, used, strict=True):
        d = xy - t
        taken, pick = [0] * 4, []
        for p in np.argsort((d**2).sum(1), kind="stable")[:48]:
            q = int(d[p].sum() > 0) + 2 * int(d[p, 0] > d[p, 1])
            spaced = all(np.hypot(*(xy[p] - xy[o])) >= 0.3 * np.hypot(*d[p]) for o in pick)
            if taken[q] < 2 and spaced and len(pick) < 8:
                taken[q] += 1
                pick.append(p)
        assert list(row[:n]) == pick


def test_posts_of_one_line_that_share_a_cell_are_joined():
    """Three posts of a line in one cell: mean position and mean value; another line's post stays its own."""
    xy = np.array([[0.49, 0.5], [0.51, 0.5], [0.50, 0.51], [0.5, 0.5], [2.0, 2.0]])
    where = replace(plain_sources(xy, 0.02), line=np.array([0, 0, 0, 1, 1]))
    point, means = join_in_cells(where, GRID)
    assert point.xy_m[0] == pytest.approx([0.5, 0.50333], abs=1e-4)
    assert list(point.line) == [0, 1, 1]
    values = np.array([[1.0], [2.0], [6.0], [9.0], [4.0]], np.float32)
    assert means.apply(values)[:, 0] == pytest.approx([3.0, 9.0, 4.0])
    assert all(a < b for a, b in pairwise(means.start))


@pytest.mark.parametrize("method", METHODS)
def test_no_points_give_a_blank_map(method):
    """Nothing to interpolate from: every cell is empty."""
    none = plain_sources(np.empty((0, 2)), 0.05)
    weights, sd = find_weights(method, none, np.zeros((3, 2)), 1.0, SMOOTH)
    assert np.isnan(weights.apply(np.empty((0, 2), np.float32))).all()
    assert np.isnan(sd).all()
