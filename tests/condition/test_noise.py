"""Noise floor of a line."""

import numpy as np
import pytest

from gridmap.condition.noise import noise_floor

TIME = 0.2 * np.arange(250)
ALONG = 0.03 * np.arange(200)


def line(noise, seed=2):
    """Dipping, flat and curved echoes of unit strength that fade with time, and normal noise."""
    rng = np.random.default_rng(seed)
    out = noise * rng.normal(size=(len(ALONG), len(TIME)))
    for at in (8.0 + 0 * ALONG, 10 + 2 * ALONG, 20 * np.hypot(ALONG - 3, 1.2)):
        a = (np.pi * 0.3 * (TIME[None] - at[:, None])) ** 2
        out += (1 - 2 * a) * np.exp(-a) * np.exp(-at / 8)[:, None]
    return out.astype(np.float32)


@pytest.mark.parametrize("noise", [0.001, 0.01, 0.1])
def test_normal_noise_of_known_size_comes_back(noise):
    """Second differences of white noise have six times its variance; echoes drop out: right to 10 %."""
    assert noise_floor(line(noise), 0.2).level == pytest.approx(noise, rel=0.1)


def test_a_tenth_of_wild_traces_hardly_counts():
    """The median keeps bursts on a few traces from raising the floor by more than a third."""
    traces = line(0.01)
    traces[::20] += 5.0 * np.random.default_rng(1).normal(size=traces[::20].shape).astype(np.float32)
    assert noise_floor(traces, 0.2).level < 0.0134


def test_level_follows_the_unit_of_the_data():
    """Ten times the amplitude, ten times the noise, at every time."""
    one, ten = noise_floor(line(0.01), 0.2), noise_floor(10 * line(0.01), 0.2)
    assert ten.level == pytest.approx(10 * one.level, rel=1e-5)
    assert ten.per_time == pytest.approx(10 * one.per_time, rel=1e-5)
    assert one.per_time.shape == TIME.shape


def test_noise_that_grows_with_time_is_seen_at_its_time():
    """Receiver noise after a gain of 40 dB along the record: per_time follows it to 20 %."""
    gain = 10 ** (2 * TIME / TIME[-1])
    white = np.random.default_rng(4).normal(size=(300, 250)) * gain
    found = noise_floor(white.astype(np.float32), 0.2)
    assert found.per_time[25:-25] == pytest.approx(gain[25:-25], rel=0.2)


def test_too_few_traces_tell_nothing():
    """Four traces: NaN, not a guess."""
    assert np.isnan(noise_floor(line(0.1)[:4], 0.2).level)
