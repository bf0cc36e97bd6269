"""Corners suggested from the data's own spectrum."""

import numpy as np
import pytest

from gridmap.condition.band import suggest_band

TIME = 0.2 * np.arange(250)


def line(centre_mhz, noise, seed=1):
    """Ricker echoes of a centre frequency at smoothly wandering times, over white noise."""
    rng = np.random.default_rng(seed)
    x = np.arange(200) / 200
    out = noise * rng.normal(size=(200, 250))
    for k in range(6):
        at = 10 + 5 * k + 2 * np.sin(2 * np.pi * (x * (1 + k % 3) + rng.random()))
        a = (np.pi * centre_mhz * 1e-3 * (TIME[None] - at[:, None])) ** 2
        out += (1 - 2 * a) * np.exp(-a)
    return out.astype(np.float32)


def test_band_holds_the_half_amplitude_width_of_a_ricker_pulse():
    """A Ricker pulse is above half its peak amplitude from 0.482 to 1.637 f0 (trade.md 1.4)."""
    low, high = suggest_band(line(300.0, 0.01), 0.2, 280.0).corners_mhz
    assert low < 0.482 * 300 < 1.637 * 300 < high


def test_band_moves_with_the_data_and_not_with_the_nominal_frequency():
    """Echoes at 220 MHz from an antenna sold as 300: the suggestion follows the echoes."""
    a = suggest_band(line(220.0, 0.01), 0.2, 300.0)
    b = suggest_band(line(380.0, 0.01), 0.2, 300.0)
    assert np.mean(a.corners_mhz) < np.mean(b.corners_mhz)
    assert a.frequency_mhz[np.argmax(a.echo)] == pytest.approx(220, rel=0.15)


def test_more_noise_makes_the_band_narrower():
    """Where noise covers the flanks of the spectrum, they are left out."""
    clear, noisy = (suggest_band(line(300.0, n), 0.2, 300.0).corners_mhz for n in (0.003, 0.3))
    assert noisy[1] - noisy[0] < clear[1] - clear[0]


def test_noise_alone_gives_the_antennas_own_band():
    """No echoes: half to one and a half of the nominal frequency, whatever the noise does."""
    noise = np.random.default_rng(2).normal(size=(200, 250)).astype(np.float32)
    low, high = suggest_band(noise, 0.2, 300.0).corners_mhz
    assert 75 <= low < high <= 750
