"""Crests and paths on volumes whose bands are laid by formula."""

import numpy as np
import pytest

from gridmap.features.linear import crest_paths
from gridmap.features.ridges import make_ready, ridge_points
from gridmap.model import Grid, Volume

CELL, STEP, WAVE = 0.05, 0.025, 0.35


def volume_of(*bands, size=(6.0, 6.0), depth=1.5, seed=1, noise=1.0):
    """Rayleigh speckle of unit scale, smoothed to a third of a wavelength, and bands of Gaussian profile.

    A band: ((x0, y0, z0), (x1, y1, z1), strength), straight from end to end.
    """
    from scipy.ndimage import gaussian_filter

    rng = np.random.default_rng(seed)
    grid = Grid(0.0, 0.0, CELL, round(size[1] / CELL) + 1, round(size[0] / CELL) + 1)
    z = STEP * np.arange(round(depth / STEP))
    shape = (len(z), *grid.shape)
    parts = [gaussian_filter(rng.normal(size=shape), (2, 2.5, 2.5)) for _ in range(2)]
    values = noise * np.hypot(*parts) / parts[0].std()
    zz, yy, xx = np.meshgrid(z, grid.y_m(), grid.x_m(), indexing="ij")
    place = np.stack([xx, yy, zz], axis=-1)
    for a, b, strength in bands:
        a, b = np.array(a), np.array(b)
        run = (b - a)[:2] / np.hypot(*(b - a)[:2]) ** 2
        share = np.clip((place[..., :2] - a[:2]) @ run, 0, 1)
        off = place - (a + share[..., None] * (b - a))
        values = values + strength * np.exp(
            -0.5 * (np.hypot(off[..., 0], off[..., 1]) / 0.1) ** 2 - 0.5 * (off[..., 2] / 0.06) ** 2
        )
    return Volume(values.astype(np.float32), grid, "depth", 0.0, STEP, "envelope")


def paths_of(volume):
    """(crest, 3) of each path, the strongest first."""
    crests = ridge_points(make_ready(volume, WAVE, 0.15), (0.5 * WAVE, 1.5 * WAVE), 3.0)
    return [crests.xyz_m[p] for p in crest_paths(crests, 0.25)]


def length(path):
    return np.hypot(*np.diff(path[:, :2], axis=0).T).sum()


def off_line(path, a, b):
    """Distance in plan and depth of each vertex from the band's axis."""
    a, b = np.array(a), np.array(b)
    run = (b - a)[:2] / np.hypot(*(b - a)[:2]) ** 2
    share = (path[:, :2] - a[:2]) @ run
    off = path - (a + share[:, None] * (b - a))
    return np.hypot(off[:, 0], off[:, 1]), off[:, 2]


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ((0.0, 2.0, 0.6), (6.0, 2.0, 0.6)),
        ((0.0, 1.0, 0.8), (6.0, 4.3, 0.8)),
        ((3.2, 0.0, 0.5), (2.8, 6.0, 1.1)),
    ],
    ids=["along x", "oblique", "falling 1 in 10"],
)
def test_a_band_is_traced_from_end_to_end(a, b):
    """A pipe of eight times the usual level: all its length, within 5 cm in plan and 4 cm in depth (median)."""
    best = paths_of(volume_of((a, b, 8.0)))[0]
    plan, depth = off_line(best, a, b)
    assert length(best) >= 0.95 * np.hypot(b[0] - a[0], b[1] - a[1])
    assert np.median(plan) <= 0.05
    assert np.median(np.abs(depth)) <= 0.04


def test_pipes_that_cross_at_different_depths_are_kept_apart():
    """Two crossing bands 0.35 m apart in depth give two straight paths."""
    one, two = ((0.0, 3.0, 0.5), (6.0, 3.2, 0.5)), ((3.0, 0.0, 0.85), (3.4, 6.0, 0.85))
    found = paths_of(volume_of((*one, 8.0), (*two, 8.0)))[:2]
    for a, b in (one, two):
        off = min(float(off_line(c, a, b)[0].max()) for c in found)
        assert off <= 0.12
    assert min(length(c) for c in found) >= 5.6


def test_a_gap_beyond_the_limit_is_not_bridged():
    """A band broken over 1.6 m gives no path across; over 0.4 m it does."""
    left, right = ((0.0, 3.0, 0.6), (2.2, 3.0, 0.6), 8.0), ((3.8, 3.0, 0.6), (6.0, 3.0, 0.6), 8.0)
    wide = paths_of(volume_of(left, right))[0]
    assert length(wide) < 3.2
    right = ((2.6, 3.0, 0.6), (6.0, 3.0, 0.6), 8.0)
    assert length(paths_of(volume_of(left, right))[0]) > 5.5
