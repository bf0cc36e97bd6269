"""The covariance fitted to the posts of a survey."""

from dataclasses import replace

import numpy as np
import pytest

from gridmap.volume.likeness import Likeness
from gridmap.volume.sources import plain_sources
from gridmap.volume.variogram import fit_likeness


def grid_of_lines(both: bool):
    """Lines along x 0.25 m apart, and along y where asked, 6 m square, posts each 0.1 m."""
    x, beside = np.arange(0, 6.001, 0.1), np.arange(0, 6.001, 0.25)
    lines = [np.stack([x, np.full_like(x, y)], 1) for y in beside]
    if both:
        lines += [np.stack([np.full_like(x, y), x], 1) for y in beside]
    way = np.repeat(np.arange(len(lines)) // len(beside), len(x))
    where = plain_sources(np.concatenate(lines), 0.1)
    return replace(where, line=np.repeat(np.arange(len(lines)), len(x)), way=way, ways=1 + both, line_m=0.25)


def draw(where, likeness, seed, windows=12):
    """Values (post, window) with a covariance, by its Cholesky factor."""
    rng = np.random.default_rng(seed)
    root = np.linalg.cholesky(likeness.at(where.xy_m[:, None] - where.xy_m[None]) + 1e-8 * np.eye(len(where)))

    def field():
        return root @ rng.normal(size=(len(where), windows))

    out = np.sqrt(likeness.common) * field() + np.sqrt(likeness.noise) * rng.normal(
        size=(len(where), windows)
    )
    for share, group in ((likeness.way, where.way), (likeness.line, where.line)):
        if share:
            for k in np.unique(group):
                own = np.sqrt(share) * field()
                out[group == k] += own[group == k]
    return out.astype(np.float32)


def test_range_and_noise_come_back():
    """A field with a Matern 5/2 covariance of 0.2 m and a tenth of noise: range within a third."""
    where = grid_of_lines(False)
    got = fit_likeness(where, draw(where, Likeness("matern52", (0.2, 0.2), 0.0, 0.9), 1))
    at = got.at(np.array([[0.2, 0.0], [0.0, 0.5], [0.0, 0.25]]))
    truth = Likeness("matern52", (0.2, 0.2), 0.0, 0.9).at(np.array([[0.2, 0.0], [0.0, 0.5], [0.0, 0.25]]))
    assert (got.common + got.line) * at == pytest.approx(0.9 * truth, abs=0.08)
    assert 0.02 <= got.noise <= 0.25


def test_direction_comes_back():
    """Ground that stays alike three times as long along 45 degrees is fitted with that bearing."""
    where = grid_of_lines(False)
    got = fit_likeness(where, draw(where, Likeness("exponential", (0.9, 0.3), 45.0, 0.95), 2))
    assert got.bearing_deg == pytest.approx(45.0, abs=23)
    assert 1.8 <= got.range_m[0] / got.range_m[1] <= 5


@pytest.mark.slow
def test_what_one_direction_and_one_line_see_comes_back():
    """Shares of 0.4 for all, 0.3 for a direction, 0.15 for a line come back within 0.12."""
    where = grid_of_lines(True)
    got = fit_likeness(where, draw(where, Likeness("exponential", (0.5, 0.5), 0.0, 0.4, 0.3, 0.15), 3))
    assert (got.common, got.way, got.line) == pytest.approx((0.4, 0.3, 0.15), abs=0.12)


def test_too_few_posts_fall_back():
    """Ten posts say nothing about likeness: a third of a metre and a tenth of noise."""
    where = plain_sources(np.stack([0.1 * np.arange(10), np.zeros(10)], 1), 0.1)
    got = fit_likeness(where, np.ones((10, 3), np.float32))
    assert got == Likeness("matern52", (0.3, 0.3), 0.0, 0.9)
