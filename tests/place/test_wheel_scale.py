"""Wheel scale from neighbours and crossing lines on ground of our own."""

import numpy as np
import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.place.wheel_scale import estimate_wheel_scale


def _errors(lines, true):
    found = estimate_wheel_scale(lines, INTERVAL_NS)
    return found, np.array([f.error - t for f, t in zip(found, true, strict=True)])


@pytest.mark.parametrize("seed", [1, 2])
def test_zigzag_lines_give_the_scale(seed):
    """Both rows of start pegs are known, so the scale is absolute: within 0.6 % RMS, and three of its own sigma."""
    true = np.random.default_rng(seed).uniform(-0.025, 0.025, 12)
    lines = zigzag(Ground(seed), lines=12, scales=true, wheel_only=True)
    found, error = _errors(lines, true)
    assert all(f.absolute for f in found)
    assert np.sqrt(np.mean(error**2)) < 0.006
    assert np.all(np.abs(error) < 3 * np.array([f.sd for f in found]))


def test_crossing_lines_tie_lines_walked_one_way():
    """Lines all started from one end are tied by crossing lines."""
    rng = np.random.default_rng(3)
    tx, ty = rng.uniform(-0.025, 0.025, 16), rng.uniform(-0.025, 0.025, 16)
    ground = Ground(3)
    lines = zigzag(ground, lines=16, scales=ty, wheel_only=True, one_way=True, start_x=0.5, length=5.0)
    lines += zigzag(
        ground,
        lines=16,
        scales=tx,
        wheel_only=True,
        one_way=True,
        start_x=0.5,
        along_x=True,
        length=4.8,
        prefix="M",
    )
    found, error = _errors(lines, np.concatenate([ty, tx]))
    assert all(f.absolute for f in found)
    assert np.nanmedian(np.abs(error)) < 0.003


def test_one_way_lines_are_relative_and_say_so():
    """All lines from one end and none across: the words say relative."""
    true = np.random.default_rng(4).uniform(-0.02, 0.02, 8)
    found = estimate_wheel_scale(
        zigzag(Ground(4), lines=8, scales=true, wheel_only=True, one_way=True), INTERVAL_NS
    )
    assert not any(f.absolute for f in found)
    assert any("relative" in f.words for f in found)
