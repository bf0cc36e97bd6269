"""Automatic gain for pictures."""

import numpy as np
import pytest
from scipy import ndimage

from gridmap.condition.picture_gain import automatic_gain


def test_decay_is_levelled():
    """Noise that falls by 40 dB comes out with RMS 1 at both ends, within 20 %."""
    decay = 10 ** (-np.linspace(0, 2, 400))
    traces = (np.random.default_rng(1).normal(size=(200, 400)) * decay).astype(np.float32)
    out = automatic_gain(traces, 0.2, 10.0, floor=1e-4)
    assert np.sqrt((out**2).mean(axis=0))[30:-30] == pytest.approx(np.ones(340), rel=0.2)


def test_agrees_with_a_plain_running_rms():
    """The same as dividing by scipy's running mean of squares."""
    traces = np.random.default_rng(2).normal(size=(3, 100)).astype(np.float32)
    want = traces / np.sqrt(ndimage.uniform_filter1d(traces.astype(float) ** 2, 11, axis=1))
    assert automatic_gain(traces, 1.0, 10.0, floor=0.0) == pytest.approx(want, rel=1e-3)


def test_silence_stays_silent():
    """No division of nothing by nothing."""
    assert (automatic_gain(np.zeros((2, 50), np.float32), 0.2, 5.0) == 0).all()
