"""The covariance fitted along lines."""

import numpy as np
import pytest

from gridmap.volume.variogram import fit_range


def test_known_range_and_nugget_come_back():
    """Series drawn with a Matern 5/2 covariance of 0.2 m and a tenth of noise: range within 30 %."""
    rng = np.random.default_rng(8)
    along = 0.05 * np.arange(400)
    h = np.abs(along[:, None] - along) / 0.2
    covariance = (1 + h + h * h / 3) * np.exp(-h)
    root = np.linalg.cholesky(covariance + 1e-9 * np.eye(len(along)))
    values = [
        (root @ rng.normal(size=(400, 6)) * np.sqrt(0.9) + np.sqrt(0.1) * rng.normal(size=(400, 6))).astype(
            np.float32
        )
        for _ in range(6)
    ]
    range_m, nugget = fit_range(values, 0.05, (0.05, 1.0))
    assert range_m == pytest.approx(0.2, rel=0.3)
    assert 0.02 <= nugget <= 0.3


def test_too_short_lines_fall_back_to_the_middle_of_the_limits():
    """Ten posts say nothing about correlation."""
    assert fit_range([np.ones((10, 2), np.float32)], 0.05, (0.1, 0.3))[0] == pytest.approx(0.2)
