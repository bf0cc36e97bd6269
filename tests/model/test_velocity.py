"""Time to depth and back."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.model import VelocityModel


def test_depth_is_half_velocity_times_time():
    """d = v t / 2 (GPG, Processing; trade.md 1.2): 40 ns at 0.1 m/ns is 2.00 m."""
    assert VelocityModel.constant(0.1, 0.0, "").depth_m(40.0) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("permittivity", "velocity"), [(4, 0.1499), (9, 0.0999), (16, 0.0749), (25, 0.0600), (81, 0.0333)]
)
def test_velocity_of_light_over_root_permittivity(permittivity, velocity):
    """v = c / sqrt(eps): the worked pairs of trade.md 1.2 (formula: GPG, Basic Principles)."""
    from gridmap.model import LIGHT_M_PER_NS

    assert LIGHT_M_PER_NS / np.sqrt(permittivity) == pytest.approx(velocity, abs=6e-5)


LAYERS = VelocityModel(np.array([0.0, 0.34, 1.62]), np.array([0.1176, 0.1028, 0.0774]), 0.004, "three layers")


@pytest.mark.parametrize("depth", [0.0, 0.2, 0.34, 1.0, 1.62, 2.5])
def test_layers_there_and_back(depth):
    """Depth to time to depth is the identity, at layer tops too."""
    assert LAYERS.depth_m(LAYERS.two_way_ns(depth)) == pytest.approx(depth, abs=1e-12)


def test_layered_time_is_the_sum_of_layers():
    """0.34 m at 0.1176 and 0.66 m at 0.1028: 2 (0.34 / 0.1176 + 0.66 / 0.1028) ns down to 1 m."""
    assert LAYERS.two_way_ns(1.0) == pytest.approx(2 * (0.34 / 0.1176 + 0.66 / 0.1028))
    assert LAYERS.mean_m_per_ns(1.0) == pytest.approx(1 / (0.34 / 0.1176 + 0.66 / 0.1028))


def test_rms_velocity_of_two_layers_is_dix():
    """v_rms^2 = sum(v_i^2 t_i) / sum(t_i) (Dix 1955), worked for two layers of equal time: 0.08 and 0.12."""
    model = VelocityModel(np.array([0.0, 0.4]), np.array([0.08, 0.12]), 0.0, "")
    assert model.rms_m_per_ns(1.0) == pytest.approx(np.sqrt((0.08**2 + 0.12**2) / 2))
    assert model.rms_m_per_ns(0.3) == pytest.approx(0.08)


@given(st.floats(0.05, 0.2), st.floats(0.0, 5.0))
def test_ten_percent_of_velocity_is_ten_percent_of_depth(velocity, depth):
    """The depth's deviation grows in proportion (needs: an error of 10 % at 1.5 m is 15 cm)."""
    model = VelocityModel.constant(velocity, 0.1 * velocity, "")
    assert model.depth_sd_m(depth) == pytest.approx(0.1 * depth)


def test_known_deviations_are_interpolated_and_grow_in_proportion_below():
    """Between known depths the deviation is interpolated; twice the last depth has twice its deviation."""
    model = VelocityModel(
        np.zeros(1), np.array([0.1]), 0.004, "", np.array([0.0, 0.5, 1.0]), np.array([0.01, 0.02, 0.04])
    )
    assert model.depth_sd_m(0.25) == pytest.approx(0.015)
    assert model.depth_sd_m(2.0) == pytest.approx(0.08)
    depth, sd = model.depth_with_sd_m(20.0)
    assert (float(depth), float(sd)) == pytest.approx((1.0, 0.04))
