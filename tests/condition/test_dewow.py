"""Dewow."""

import numpy as np

from gridmap.condition.dewow import dewow


def test_constant_offset_and_slow_swing_go_and_a_pulse_stays():
    """A swing of 200 ns is cut to a twentieth; a 300 MHz pulse keeps 90 % of its peak."""
    time = 0.2 * np.arange(400)
    swing = 5.0 + 3.0 * np.sin(2 * np.pi * time / 200.0)
    a = (np.pi * 0.3 * (time - 40.0)) ** 2
    pulse = (1 - 2 * a) * np.exp(-a)
    quiet = dewow(swing[None].astype(np.float32), 0.2, 13.3)[0]
    both = dewow((swing + pulse)[None].astype(np.float32), 0.2, 13.3)[0]
    assert np.abs(quiet[50:-50]).max() < 3.0 / 20
    assert (both - quiet)[200] > 0.9


def test_input_is_left_alone():
    """A pure function returns a new array."""
    traces = np.ones((2, 50), np.float32)
    dewow(traces, 0.2, 3.0)
    assert (traces == 1).all()
