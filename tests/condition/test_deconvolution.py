"""Predictive deconvolution."""

import numpy as np
import pytest

from gridmap.condition.deconvolution import prediction_filter, take_off_predicted


def ringing_ground(period=20, strength=0.6, seed=3):
    """Random reflections, each repeated every `period` samples with reversed sign and less strength."""
    rng = np.random.default_rng(seed)
    pulse = np.convolve([1, -1], np.hanning(9))
    out = np.zeros((300, 400))
    at = rng.integers(5, 360, (300, 4))
    for i, places in enumerate(at):
        for p in places:
            sign = rng.choice([-1, 1])
            for k in range(8):
                if p + k * period < 400:
                    out[i, p + k * period] += sign * (-strength) ** k
    clean = np.zeros_like(out)
    for i, places in enumerate(at):
        clean[i, places] = out[i, places]
    return (np.array([np.convolve(o, pulse)[:400] for o in m]).astype(np.float32) for m in (out, clean))


def test_reverberation_of_known_period_goes():
    """A geometric train of echoes 20 samples apart (Peacock and Treitel 1969 [memory]) falls by 10 dB and more."""
    rung, _ = ringing_ground()
    taps = prediction_filter(rung, 1.0, 15, 12, 0.001)
    out = take_off_predicted(rung, taps, 1.0, 15)
    power = lambda x: np.mean(np.abs(np.fft.rfft(x, 1024, axis=1)) ** 2, axis=0)  # noqa: E731
    lags = [np.fft.irfft(power(x)) for x in (rung, out)]
    before, after = (abs(lag[20] / lag[0]) for lag in lags)
    assert after < before / 3.2


def test_first_arrivals_are_untouched():
    """Samples before the gap has passed stay to the bit; an echo alone keeps its pulse."""
    rung, _ = ringing_ground()
    taps = prediction_filter(rung, 1.0, 15, 12)
    out = take_off_predicted(rung, taps, 1.0, 15)
    assert (out[:, :15] == rung[:, :15]).all()


def test_white_noise_cannot_be_foretold():
    """Taps of white noise are near zero: what comes out is what went in, to 5 %."""
    noise = np.random.default_rng(1).normal(size=(400, 500)).astype(np.float32)
    out = take_off_predicted(noise, prediction_filter(noise, 1.0, 5, 10), 1.0, 5)
    assert np.std(out - noise) < 0.05 * np.std(noise)


def test_a_tone_is_foretold_wholly():
    """A steady tone is the past repeated (Wiener's filter is exact for it): 20 dB and more goes."""
    tone = np.cos(0.3 * np.arange(2000))[None].astype(np.float32)
    out = take_off_predicted(tone, prediction_filter(tone, 1.0, 10, 20, 1e-5), 1.0, 10)
    assert np.std(out[:, 100:]) < 0.1 * np.std(tone)


def test_silence_gives_no_filter():
    """Zero data: zero taps, no division by zero."""
    assert prediction_filter(np.zeros((3, 50), np.float32), 1.0, 5, 5) == pytest.approx(np.zeros(5))
