"""The ladder of low-passed copies: what it lets through."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter1d

from gridmap.image.lowpass import build_ladder, smooth_in_place

INTERVAL = 0.25


def flat_band(low=100.0, high=900.0):
    f = np.fft.rfftfreq(512, INTERVAL) * 1e3
    return f, ((f > low) & (f < high)) / 1.0


def test_each_rung_damps_what_lies_above_its_limit():
    """A sine at a rung's limit comes out at 0.4 give or take rounding of the filter's width, far below whole."""
    ladder = build_ladder(*flat_band(), INTERVAL)
    time = INTERVAL * np.arange(1024)
    for rung in range(1, len(ladder.limit_mhz)):
        for share, low, high in ((1.0, 0.2, 0.55), (0.1, 0.98, 1.0)):
            sine = np.sin(2e-3 * np.pi * share * ladder.limit_mhz[rung] * time).astype(np.float32)
            data = np.repeat(sine[:, None, None], 2, axis=2).copy()
            for half_width in ladder.half_width[: rung + 1]:
                smooth_in_place(data, int(half_width))
            left = data[256:-256].std() / sine[256:-256].std()
            assert low < left < high


def test_smoothing_is_two_running_means():
    """SciPy's uniform_filter1d passed twice, zeros outside, is the same."""
    data = np.random.default_rng(3).normal(size=(60, 2, 5)).astype(np.float32)
    want = uniform_filter1d(uniform_filter1d(data, 7, axis=0, mode="constant"), 7, axis=0, mode="constant")
    smooth_in_place(data, 3)
    assert data == pytest.approx(want, abs=1e-5)


def test_rung_is_the_highest_that_cannot_alias():
    """Above the band: the whole signal; below it: nothing."""
    ladder = build_ladder(*flat_band(), INTERVAL)
    assert ladder.rung_below(np.array([2000.0, ladder.limit_mhz[2] * 1.01, 50.0])).tolist() == [0, 2, -1]
    assert np.all(np.diff(ladder.passed) < 0)
