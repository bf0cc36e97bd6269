"""What stands out, in numbers and words."""

import numpy as np
import pytest

from gridmap.model import Grid
from gridmap.slices.standout import find_standouts, in_words


def test_a_long_and_a_compact_body_are_told_apart():
    """A bar 2.5 by 0.1 m at 0.6 m and a block 0.8 by 0.6 m at 0.9 m in quiet ground."""
    rng = np.random.default_rng(9)
    grid = Grid(0, 0, 0.05, 80, 80)
    depth = 0.02 * np.arange(60)
    values = rng.uniform(0.5, 1.5, (60, 80, 80)).astype(np.float32)
    values[29:32, 20:22, 10:60] = 12.0
    values[44:47, 50:66, 20:32] = 9.0
    found = find_standouts(values, depth, grid, 0.25)
    assert len(found) == 2
    bar = next(s for s in found if s.long)
    block = next(s for s in found if not s.long)
    assert bar.length_m == pytest.approx(2.5, abs=0.1)
    assert bar.depth_m == pytest.approx(0.6, abs=0.03)
    assert (block.length_m, block.width_m) == pytest.approx((0.8, 0.6), abs=0.1)
    assert block.depth_m == pytest.approx(0.9, abs=0.03)
    assert "long, narrow" in in_words(bar, 0.02)
    assert "bearing of 90 or 270" in in_words(bar, 0.02)
    assert "bearing of 60 or 240" in in_words(bar, 0.02, rotation_deg=30.0)


def test_quiet_ground_has_none():
    """Noise alone gives an empty list, and so does a blank volume."""
    noise = np.random.default_rng(1).uniform(0.5, 1.5, (40, 50, 50)).astype(np.float32)
    assert find_standouts(noise, 0.02 * np.arange(40), Grid(0, 0, 0.05, 50, 50), 0.2) == []
    assert (
        find_standouts(np.full_like(noise, np.nan), 0.02 * np.arange(40), Grid(0, 0, 0.05, 50, 50), 0.2) == []
    )
