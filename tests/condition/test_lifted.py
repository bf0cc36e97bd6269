"""Lifted antenna: its height from the direct wave, its echoes brought to their time."""

import numpy as np
import pytest

from gridmap.condition.lifted import lower_traces, measure_lift
from gridmap.condition.nearfield import direct_wave
from gridmap.model import LIGHT_M_PER_NS

TIME = 0.2 * np.arange(250) - 4.0
RISE = np.array([0.03, 0.06, 0.1, 0.1, 0.1, 0.06, 0.03])


def wave(height_m):
    at, field = direct_wave(300.0, 0.15, height_m, 8.0)
    return np.interp(TIME, at, field, left=0.0, right=0.0)


def echo(at_ns):
    a = (np.pi * 0.3 * (TIME - at_ns)) ** 2
    return 0.3 * (1 - 2 * a) * np.exp(-a)


def test_heights_and_echo_times_come_back():
    """Model waves over ground of another permittivity than those tried: heights to 3 cm, echoes to 0.25 ns."""
    usual = wave(0.03).astype(np.float32)
    late = [15 + 0.4 * k for k in range(len(RISE))]
    lifted = np.array(
        [wave(0.03 + r) + echo(t + 2 * r / LIGHT_M_PER_NS) for r, t in zip(RISE, late, strict=True)]
    )
    early = round((4.0 + 3.3) / 0.2)
    lift = measure_lift(lifted.astype(np.float32), usual, early, 0.2, 300.0, 0.15, 0.03)
    assert lift.rise_m == pytest.approx(RISE, abs=0.031)
    assert (lift.misfit < 0.1).all()
    low = lower_traces(lifted.astype(np.float32), lift, usual, early, 0.2)
    fine = np.arange(0, 250, 0.05)
    for trace, at in zip(low - usual, late, strict=True):
        peak = fine[np.argmax(np.interp(fine, np.arange(250), np.where(TIME > 10, trace, 0)))] * 0.2 - 4.0
        assert peak == pytest.approx(at, abs=0.25)
