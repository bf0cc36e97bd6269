"""Gains of lines, channels and blocks, on ground that is known."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from gridmap.condition.levels import line_steps, solve_levels
from gridmap.model import CleanLine

STEP_M, DT_NS = 0.1, 0.5
SAMPLES = 100


def ground(across_m, length_m=12.0, seed=1, spacing_m=0.25, smooth_m=0.25):
    """Echoes (line, trace, sample) of random ground, alike over `smooth_m`, weaker with time."""
    rng = np.random.default_rng(seed)
    fine = np.arange(across_m.min() - 1, across_m.max() + 1, 0.05)
    n = round(length_m / STEP_M)
    field = gaussian_filter(
        rng.normal(size=(len(fine), n, SAMPLES)), (smooth_m / 0.05, smooth_m / STEP_M, 1.0)
    )
    field /= field.std()
    return field[np.searchsorted(fine, across_m - 1e-6)]


def walked(traces, across_m):
    n = traces.shape[1]
    y = STEP_M * np.arange(n)
    return [
        CleanLine(
            f"L{k:03d}", np.stack([np.full(n, x), y], 1), y, np.asarray(t, np.float32), np.ones(n, bool), 0.0
        )
        for k, (x, t) in enumerate(zip(across_m, traces, strict=True))
    ]


def levels_of(lines, channel=None, swath=None, block=None):
    none = [None] * len(lines)
    steps = line_steps(lines, DT_NS, 4.0, 4.0, np.full(SAMPLES, 1e-3))
    return solve_levels(steps, len(lines), channel or none, swath or none, block or [0] * len(lines))


def test_stripes_of_constant_gain_go():
    """Gains of a fifth from line to line are found to a few percent, so that the map keeps no stripes."""
    x = 0.25 * np.arange(24)
    gain = 0.2 * np.random.default_rng(2).normal(size=24)
    got = levels_of(walked(ground(x) * np.exp(gain)[:, None, None], x))
    left = (gain - gain.mean()) - got.line
    assert left.std() < 0.35 * gain.std()


def test_a_pipe_along_the_lines_survives():
    """A pipe that lies along one line, four times the ground, over its whole length, keeps nine tenths of its echo."""
    x = 0.25 * np.arange(24)
    traces = ground(x)
    gain = 0.2 * np.random.default_rng(2).normal(size=24)
    bare = levels_of(walked(traces * np.exp(gain)[:, None, None], x)).line
    pulse = 4 * np.exp(-(((np.arange(SAMPLES) - 50) / 3) ** 2)) * np.cos(np.arange(SAMPLES) - 50)
    traces[11:14] += pulse * np.array([0.6, 1.0, 0.6])[:, None, None]
    with_pipe = levels_of(walked(traces * np.exp(gain)[:, None, None], x)).line
    assert np.abs(with_pipe - bare)[11:14].max() < 0.1


def test_even_lines_are_left_alone():
    """Where steps are no more than scatter, nothing is levelled."""
    x = 0.25 * np.arange(24)
    got = levels_of(walked(ground(x), x))
    assert np.abs(got.line).max() < 0.08


def test_ground_that_grows_stronger_across_stays():
    """Ground three times as strong on one side as on the other, over 15 m, is not levelled away."""
    x = 0.25 * np.arange(61)
    slope = np.linspace(0, np.log(3), 61)
    gain = 0.15 * np.random.default_rng(4).normal(size=61)
    got = levels_of(walked(ground(x) * np.exp(slope + gain)[:, None, None], x))
    removed = np.polyfit(x, got.line - (gain - gain.mean()), 1)[0] * 15
    assert removed < 0.25 * np.log(3)


def swaths(channels=8, count=5, shared=2, step_m=0.08):
    """Places across, channel, swath and block of all lines: driven up and down; two blocks that share half a swath."""
    across, channel, swath, block = [], [], [], []
    start = 0.0
    for s in range(2 * count):
        up = s % 2 == 0
        for c in range(channels):
            across.append(start + step_m * (c if up else channels - 1 - c))
            channel.append(c)
            swath.append(s)
            block.append(s // count)
        start += step_m * (channels // 2 if s == count - 1 else channels - shared)
    return np.array(across), channel, swath, block


def test_known_gains_of_channels_and_blocks_come_back():
    """Channel gains of a quarter and a block at 1.5 times the other come back within 5 and 10 % from the overlaps."""
    x, channel, swath, block = swaths()
    rng = np.random.default_rng(3)
    of_channel = 0.25 * rng.normal(size=8)
    gain = of_channel[channel] + np.log(1.5) * np.array(block) + 0.03 * rng.normal(size=10)[swath]
    lines = walked(ground(x, smooth_m=0.15) * np.exp(gain)[:, None, None], x)
    got = levels_of(lines, channel, swath, block)
    left = gain - got.line
    left -= left.mean()
    by_channel = np.array([left[np.array(channel) == c].mean() for c in range(8)])
    by_block = [left[np.array(block) == b].mean() for b in (0, 1)]
    assert np.abs(by_channel).max() < 0.05
    assert abs(by_block[1] - by_block[0]) < 0.1


def test_a_survey_too_small_to_tell_is_left_alone():
    """Two short lines have too little in common to be levelled."""
    x = np.array([0.0, 0.25])
    got = levels_of(walked(ground(x, length_m=2.0), x))
    assert got.line == pytest.approx([0.0, 0.0])
