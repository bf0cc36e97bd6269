"""Time zero: where the direct wave stands, and how far it is from the pulse's start."""

import numpy as np
import pytest

from gridmap.condition.nearfield import direct_wave
from gridmap.condition.timezero import direct_wave_lag_ns, pick_direct_wave_ns, pulse_sign


def ricker(time_ns, frequency_mhz):
    a = (np.pi * frequency_mhz * 1e-3 * time_ns) ** 2
    return (1 - 2 * a) * np.exp(-a)


def test_far_away_the_direct_wave_comes_after_the_travel_time_of_light():
    """Ten metres away in air the near field is gone: the peak comes at r / c (trade.md 1.3, airwave x / c)."""
    r = 10.0
    assert direct_wave_lag_ns(300.0, r, permittivity=1.0) == pytest.approx(r / 0.299792458, abs=0.05)


def test_close_by_the_near_field_comes_before_the_far_field():
    """At a sixth of a wavelength the integrated terms lead, so the lag is less than r / c."""
    assert direct_wave_lag_ns(300.0, 0.15) < 0.15 / 0.299792458


@pytest.mark.parametrize("at_ns", [3.0, 3.07, 4.93])
@pytest.mark.parametrize("share", [0.2, 0.5, 1.0])
def test_every_point_of_the_wave_gives_the_same_time_zero(at_ns, share):
    """The model's own wave, sampled at 0.2 ns from any fraction, leads back to its time zero within 0.03 ns."""
    time, field = direct_wave(300.0, 0.15, 0.03, 9.0)
    record = np.interp(0.2 * np.arange(100) - at_ns, time, field, left=0.0, right=0.0)
    traces = np.tile(record, (5, 1)).astype(np.float32)
    lag = direct_wave_lag_ns(300.0, 0.15, 0.03, 9.0, share)
    assert pick_direct_wave_ns(traces, 0.2, share) - lag == pytest.approx(at_ns, abs=0.03)


def test_slow_swing_after_the_pulse_moves_the_flank_less_than_the_peak():
    """An undershoot of a tenth that sets in at time zero draws the peak early; the flank moves a third as much."""
    time, field = direct_wave(300.0, 0.15, 0.03, 9.0)
    after = np.clip(time, 0, None)
    swing = 0.1 * np.abs(field).max() * (np.exp(-after / 8) - 1.7 * np.exp(-after / 3)) * (time > 0)
    at = 0.2 * np.arange(100) - 4.0
    plain, swung = (
        np.tile(np.interp(at, time, f), (5, 1)).astype(np.float32) for f in (field, field + swing)
    )
    moved = [abs(pick_direct_wave_ns(swung, 0.2, s) - pick_direct_wave_ns(plain, 0.2, s)) for s in (0.5, 1.0)]
    assert moved[0] <= moved[1] / 3


def test_antennas_in_one_place_have_no_lag():
    """Zero separation: time zero is the peak itself."""
    assert direct_wave_lag_ns(400.0, 0.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("at_ns", [3.0, 3.07, 4.93])
def test_peak_is_found_to_a_tenth_of_a_sample(at_ns):
    """A parabola through three samples of a Ricker pulse finds its peak between samples."""
    time = 0.2 * np.arange(200)
    traces = np.tile(ricker(time - at_ns, 300.0), (40, 1)).astype(np.float32)
    traces[::7] += ricker(time - 12.0, 300.0).astype(np.float32) * 3
    assert pick_direct_wave_ns(traces, 0.2) == pytest.approx(at_ns, abs=0.02)


def test_sign_of_the_direct_wave_does_not_matter():
    """A receiver wired the other way round gives the same pick."""
    time = 0.2 * np.arange(200)
    wave = np.tile(ricker(time - 4.1, 300.0), (5, 1)).astype(np.float32)
    assert pick_direct_wave_ns(-wave, 0.2) == pytest.approx(pick_direct_wave_ns(wave, 0.2), abs=1e-6)


def test_first_break_of_a_ricker_pulse():
    """A Ricker pulse alone first reaches a fifth of its peak on its leading trough: (1 - 2a) e^-a = -0.2."""
    lag = direct_wave_lag_ns(300.0, 0.0, share=0.2)
    a = (np.pi * 0.3 * lag) ** 2
    assert (1 - 2 * a) * np.exp(-a) == pytest.approx(-0.2, abs=1e-3)
    assert lag < 0


@pytest.mark.parametrize(("turn", "sign"), [(1.0, 1), (-1.0, -1)])
def test_the_sign_of_the_pulse_is_told_whatever_way_the_recorder_turns_it(turn, sign):
    """Near the antennas the greatest peak of the direct wave is that of its near terms; the model says so."""
    time, field = direct_wave(300.0, 0.15, 0.03)
    wave = np.interp(0.2 * np.arange(200), time - time[0], field, right=0.0)
    assert pulse_sign(turn * wave[None].astype(np.float32), 0.2, 300.0, 0.15, 0.03) == sign


def test_a_direct_wave_with_two_peaks_alike_tells_no_sign():
    """The derivative of a Gauss curve has equal peaks of both signs."""
    t = 0.2 * np.arange(100) - 8.0
    wave = (-t * np.exp(-(t**2)))[None].astype(np.float32)
    assert pulse_sign(wave, 0.2, 300.0, 0.15, 0.03) == 0
