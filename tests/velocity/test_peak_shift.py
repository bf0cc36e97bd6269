"""A known pulse through gain and migration: what moves its peak, against closed forms."""

import numpy as np
import pytest

from gridmap.model import VelocityModel
from gridmap.site.records import Antenna
from gridmap.velocity.peak_shift import measure_peak_shift
from gridmap.velocity.top_depth import depth_to_top

MODEL = VelocityModel.constant(0.1, 0.003, "")
DEPTHS = np.arange(0.0, 2.0, 0.025)
INTERVAL = 0.2


def shift(mode, gain=None, height=0.0, line_m=0.25):
    gain = np.ones(260, np.float32) if gain is None else gain.astype(np.float32)
    return measure_peak_shift(
        mode, MODEL, Antenna(300.0, 0.15, height), gain, INTERVAL, DEPTHS, 0.05, line_m, count=4
    )


def test_nothing_shifts_an_even_echo():
    """Without gain, gap and migration the mirror peaks where it is, but for the antennas' separation."""
    found = shift("none")
    # trade.md 1.3, row "Separation S": the slant path to a mirror, t^2 = t0^2 + (S/v)^2.
    slant = np.hypot(found.peak_m, 0.075) - found.peak_m
    np.testing.assert_allclose(found.area_m, slant, atol=0.004)


def test_a_gap_delays_by_its_air_path():
    """Antennas 3 cm up delay a deep mirror by 0.2 ns, a centimetre at 0.1 m/ns."""
    # trade.md 1.3, row "Air gap h": 0.067 ns a centimetre.
    more = shift("none", height=0.03).area_m - shift("none").area_m
    assert more[-1] == pytest.approx(0.5 * 0.1 * 0.067 * 3, abs=0.003)


def test_growing_gain_leans_on_the_later_half_of_the_pulse():
    """A gain of exp(a t) moves a Gaussian envelope of deviation s by a s^2."""
    # exp(-(t - t0)^2 / 2 s^2 + a t) peaks at t0 + a s^2. A Ricker pulse's envelope falls to a half at 0.398 periods
    # (computed), so s is about 0.338 periods.
    a, s = 0.15, 0.338 / 0.3
    more = shift("none", np.exp(a * INTERVAL * np.arange(260))).area_m - shift("none").area_m
    np.testing.assert_allclose(more[1:], 0.5 * 0.1 * a * s * s, rtol=0.2)


@pytest.mark.parametrize("mode", ["2d", "3d"])
def test_migration_of_close_lines_moves_no_peak_far(mode):
    """With lines 0.15 wavelengths apart rod and mirror stay within a tenth of a wavelength."""
    found = shift(mode, line_m=0.05)
    assert np.abs(found.line_m[1:]).max() < 0.033
    assert np.abs(found.area_m[2:]).max() < 0.033
    # Known: a mirror one wavelength down, summed in 3D, peaks up to 0.18 wavelengths too shallow.
    assert np.abs(found.area_m[1:]).max() < (0.033 if mode == "2d" else 0.06)


def test_the_measured_shift_is_taken_off_the_depth():
    """A mirror's peak, shifted as measured, is put back to where the mirror is."""
    found = shift("none", np.exp(0.15 * INTERVAL * np.arange(260)), height=0.03)
    seen = found.peak_m + found.area_m
    depth, _ = depth_to_top(seen, MODEL, 300.0, target="area", polarity="reversed", shift=found)
    np.testing.assert_allclose(depth, found.peak_m, atol=1e-6)
