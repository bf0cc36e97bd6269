"""Echoes over the usual level of their depth."""

import numpy as np
import pytest

from gridmap.slices.usual_level import usual_level


def test_every_depth_has_a_median_of_one_and_a_strong_body_keeps_its_ratio():
    """Noise that fades with depth, blank in part: usual is 1 everywhere; a body 12 times the median stays 12."""
    rng = np.random.default_rng(9)
    fade = np.exp(-0.03 * np.arange(60))[:, None, None]
    values = (fade * rng.uniform(0.5, 1.5, (60, 80, 80))).astype(np.float32)
    values[:, :10] = np.nan
    values[30, 40:44, 40:44] = 12.0 * fade[30]
    over = values / usual_level(values)[:, None, None]
    assert np.nanmedian(over, axis=(1, 2)) == pytest.approx(1.0, rel=0.1)
    assert over[30, 41, 41] == pytest.approx(12.0, rel=0.05)
    assert np.isnan(over[:, :10]).all()


def test_a_blank_volume_has_a_level_to_divide_by():
    """Nothing known, nothing said: what is blank stays blank when it is divided."""
    level = usual_level(np.full((4, 5, 5), np.nan, np.float32))
    assert (level > 0).all()
