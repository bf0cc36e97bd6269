"""Band-pass, shift and resampling in one pass."""

import numpy as np
import pytest
from scipy import signal

from gridmap.condition.spectrum import band_gain, to_time_zero

RNG = np.random.default_rng(5)


def band_limited(count, samples, high_mhz, interval_ns):
    noise = RNG.normal(size=(count, samples))
    b = signal.butter(6, high_mhz * 2e-3 * interval_ns, output="sos")
    return (signal.sosfiltfilt(b, noise, axis=1) * np.hanning(samples)).astype(np.float32)


def test_gain_is_half_at_the_corners_and_one_inside():
    """Forward and backward Butterworth: -6 dB at each corner (scipy.signal.sosfiltfilt has the same)."""
    at = np.array([100.0, 245.0, 600.0])
    assert band_gain(at, 100.0, 600.0) == pytest.approx([0.5, 1.0, 0.5], abs=0.01)


def test_band_pass_agrees_with_scipy_filtering_forward_and_backward():
    """The same magnitude as scipy's sosfiltfilt of order 4 for low-pass and high-pass (reference library)."""
    traces = band_limited(3, 600, 2000.0, 0.2)
    got = to_time_zero(traces, 0.2, 0.0, 600, (100.0, 700.0))
    low = signal.butter(4, 700.0, fs=5000.0, output="sos")
    high = signal.butter(4, 100.0, btype="high", fs=5000.0, output="sos")
    want = signal.sosfiltfilt(high, signal.sosfiltfilt(low, traces.astype(float), axis=1), axis=1)
    # The bilinear transform bends scipy's upper corner; below a third of Nyquist the two agree to 3 %.
    assert np.abs(got - want)[:, 100:500].max() < 0.03 * np.abs(want).max()


def test_shift_by_whole_samples_moves_samples():
    """Time zero at sample 25: sample 25 becomes sample 0."""
    traces = band_limited(2, 300, 1500.0, 0.2)
    got = to_time_zero(traces, 0.2, 5.0, 200, None)
    assert got == pytest.approx(traces[:, 25:225], abs=1e-4)


def test_half_the_interval_keeps_every_second_sample():
    """Resampling by zero-padding the spectrum passes through the old samples (Shannon 1949)."""
    traces = band_limited(2, 300, 1500.0, 0.2)
    got = to_time_zero(traces, 0.2, 0.0, 500, None, out_interval_ns=0.1)
    assert got[:, ::2] == pytest.approx(traces[:, :250], abs=2e-4)


def test_samples_past_the_record_are_zero():
    """Nothing is invented after the last sample."""
    traces = np.ones((1, 100), np.float32)
    got = to_time_zero(traces, 0.2, 4.0, 120, None)
    assert (got[:, 81:] == 0).all()
