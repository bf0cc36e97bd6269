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


@pytest.mark.parametrize("seed", [3, 4])
def test_crossing_lines_tie_lines_walked_one_way(seed):
    """Lines all started from one end are tied by crossing lines: within 1 % RMS, and 3.5 of their own sigma.

    Without them nothing but the 2.5 % of an uncalibrated wheel would be known.
    """
    rng = np.random.default_rng(seed)
    tx, ty = rng.uniform(-0.025, 0.025, 16), rng.uniform(-0.025, 0.025, 16)
    ground = Ground(seed)
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
    told = np.isfinite(error)
    assert all(f.absolute for f in found)
    assert told.sum() >= 28
    assert np.sqrt(np.nanmean(error**2)) < 0.010
    assert np.all(np.abs(error[told]) < 3.5 * np.array([f.sd for f in found])[told])


@pytest.mark.parametrize("seed", [1, 2])
def test_lines_of_one_wheel_are_drawn_together(seed):
    """One wheel 1.8 % off, marks held to 2.5 cm: lines scatter by less than half of what the marks of 6 m would give.

    Two marks of 2.5 cm over 6 m are 0.59 %.
    """
    lines = zigzag(
        Ground(seed), lines=12, scales=np.full(12, 0.018), wheel_only=True, marks_m=0.025, seed=seed
    )
    found, error = _errors(lines, np.full(12, 0.018))
    assert np.std(error) < 0.5 * np.sqrt(2) * 0.025 / 6.0
    assert abs(error.mean()) < 0.005
    assert np.median([f.sd for f in found]) < 0.003


def test_lines_that_are_placed_otherwise_stay_and_help():
    """Lines by pegs between wheel lines are not moved, and the wheel lines come out within 0.4 % RMS beside them."""
    true = np.where(np.arange(12) % 3 == 1, np.random.default_rng(6).uniform(-0.025, 0.025, 12), 0.0)
    lines = zigzag(Ground(6), lines=12, scales=true, wheel_only=True)
    free = {ln.name for ln, t in zip(lines, true, strict=True) if t}
    found = estimate_wheel_scale(lines, INTERVAL_NS, free=free)
    assert {f.name for f in found} == free
    right = dict(zip((ln.name for ln in lines), true, strict=True))
    assert np.sqrt(np.mean([(f.error - right[f.name]) ** 2 for f in found])) < 0.004


def test_one_way_lines_are_relative_and_say_so():
    """All lines from one end and none across: the words say relative."""
    true = np.random.default_rng(4).uniform(-0.02, 0.02, 8)
    found = estimate_wheel_scale(
        zigzag(Ground(4), lines=8, scales=true, wheel_only=True, one_way=True), INTERVAL_NS
    )
    assert not any(f.absolute for f in found)
    assert any("relative" in f.words for f in found)


def test_neighbours_that_tell_of_few_lines_have_no_say():
    """In ground that hardly echoes another recording, with other noise, of the same walk gives the same scales."""
    scales = 0.02 + 0.003 * np.random.default_rng(9).standard_normal(9)
    ground = Ground(1, strength=0.3)
    told = [
        [
            w.error
            for w in estimate_wheel_scale(
                zigzag(ground, lines=9, spacing=0.5, noise=1.0, seed=seed, scales=scales, wheel_only=True),
                INTERVAL_NS,
            )
        ]
        for seed in (1, 2)
    ]
    np.testing.assert_allclose(told[0], told[1], atol=1e-9)
