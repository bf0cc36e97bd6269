"""The half-space field against the free-space one, plane-wave transmission and total reflection."""

import numpy as np
import pytest
from scipy.special import hankel1

from gridmap.model import LIGHT_M_PER_NS
from gridmap.velocity.surface import field_below, straight_rays, surface_effect

C = 0.299792458


@pytest.fixture(scope="module")
def effect():
    return surface_effect(280.0, 0.025)


@pytest.mark.parametrize("frequency_mhz", [100.0, 280.0, 900.0])
def test_without_contrast_it_is_the_hankel_function(frequency_mhz):
    """With ground as fast as air the field is i/4 H0(kr), the line source in free space."""
    # Morse & Feshbach, Methods of Theoretical Physics, section 7.2 [memory]; scipy's Hankel function.
    offset = np.linspace(0.0, 2.0, 9)
    k = 2e-3 * np.pi * frequency_mhz / C
    expected = 0.25j * hankel1(0, k * np.hypot(0.9, offset))
    field = field_below(frequency_mhz, LIGHT_M_PER_NS, 0.1, 0.8, offset)
    np.testing.assert_allclose(np.abs(field - expected) / np.abs(expected), 0, atol=1e-3)


def test_straight_down_and_deep_the_amplitude_is_that_of_plane_waves():
    """Deep below, the field is the free one times 2 n / (n + 1), with the delay of the gap in its phase."""
    # Fresnel transmission into the ground (Jackson, section 7.3 [memory]), spreading as in the ground.
    v, depth, height, mhz = 0.1, 12.0, 0.025, 280.0
    n = C / v
    ground, air = 2e-3 * np.pi * mhz / v, 2e-3 * np.pi * mhz / C
    expected = 0.25j * hankel1(0, ground * depth) * 2 * n / (n + 1) * np.exp(1j * air * height)
    field = field_below(mhz, v, height, depth, np.zeros(1))[0]
    assert abs(field) == pytest.approx(abs(expected), rel=0.02)
    assert np.angle(field / expected) == pytest.approx(0.0, abs=0.05)


def test_far_beyond_the_critical_angle_the_phase_is_that_of_total_reflection():
    """Deep below at 45 degrees the lead is atan(sqrt(sin^2 - 1/n^2) / cos) and the gap's lag at 0."""
    # Phase of 2/(a + g) with a imaginary: the electric-field-across (TE) case of total reflection.
    v, height, mhz = 0.1, 0.025, 280.0
    angle = np.radians(45.0)
    depth = 30.0
    offset = np.array([0.0, depth * np.tan(angle)])
    ground, air = 2e-3 * np.pi * mhz / v, 2e-3 * np.pi * mhz / C
    field = field_below(mhz, v, height, depth, offset) * np.exp(-1j * ground * np.hypot(depth, offset))
    lead = -np.angle(field[1] / field[0])
    expected = np.arctan(np.sqrt(np.sin(angle) ** 2 - (v / C) ** 2) / np.cos(angle)) + air * height
    assert lead == pytest.approx(expected, abs=0.1)


def test_steep_rays_lose_the_delay_of_the_gap(effect):
    """Straight down the gap of 2.5 cm costs about its 0.083 ns; the delay falls steadily to 40 degrees."""
    # trade.md 1.3, row "Air gap h": 0.067 ns a centimetre both ways.
    v = int(np.argmin(np.abs(effect.velocity_m_per_ns - 0.105)))
    z = int(np.argmin(np.abs(np.exp(effect.log_depth) - 0.8)))
    row = effect.delay_ns[v, z]
    assert row[0] == pytest.approx(2.5 * 0.067 / 2, abs=0.03)
    assert (np.diff(row[: np.searchsorted(effect.angle_rad, np.radians(40))]) < 0).all()


def test_higher_antennas_are_later_and_lose_more(effect):
    """Twice the height raises the delay straight down and its fall to 30 degrees."""
    high = surface_effect(280.0, 0.05)
    k = int(np.searchsorted(effect.angle_rad, np.radians(30)))
    low_fall = effect.delay_ns[..., 0] - effect.delay_ns[..., k]
    high_fall = high.delay_ns[..., 0] - high.delay_ns[..., k]
    assert (high.delay_ns[:, 3:, 0] > effect.delay_ns[:, 3:, 0]).all()
    assert np.median(high_fall - low_fall) > 0


def test_straight_rays_are_all_zero():
    """The textbook case has neither delay nor phase."""
    none = straight_rays()
    assert not none.delay_ns.any()
    assert not none.phase_rad.any()
