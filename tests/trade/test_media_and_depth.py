"""Published velocities of media, and depths that follow from them."""

import math

import pytest

from gridmap.model import VelocityModel
from gridmap.velocity.media import find_medium, medium_velocity

C = 0.299792458

# GPG, table of velocities, as transcribed in shared/trade.md 1.1: permittivity from, to, velocity m/ns.
GPG_TABLE = {
    "fresh water": (80, 80, 0.033),
    "ice": (3, 4, 0.16),
    "dry sand": (3, 5, 0.15),
    "saturated sand": (20, 30, 0.06),
    "limestone": (4, 8, 0.12),
    "shale": (5, 15, 0.09),
    "silt": (5, 30, 0.07),
    "clay": (5, 40, 0.06),
    "granite": (4, 6, 0.13),
}


@pytest.mark.parametrize("name", GPG_TABLE)
def test_published_numbers(name):
    """The table holds the published permittivity and velocity."""
    low, high, velocity = GPG_TABLE[name]
    medium = find_medium(name)
    assert (medium.permittivity_low, medium.permittivity_high) == (low, high)
    assert medium_velocity(name).mean_m_per_ns() == pytest.approx(velocity)
    assert medium.range_m_per_ns == pytest.approx((C / math.sqrt(high), C / math.sqrt(low)))


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # shared/trade.md 1.1, "Not seen" [memory: Daniels 2004; Neal 2004 for peat].
        ("dry concrete", 4, 10),
        ("wet asphalt", 6, 12),
        ("wet clay", 15, 40),
        ("wet topsoil", 10, 30),
        ("peat", 57, 80),
    ],
)
def test_ranges_without_a_published_velocity(name, low, high):
    """Where only the range is published the velocity lies inside it."""
    medium = find_medium(name)
    assert (medium.permittivity_low, medium.permittivity_high) == (low, high)
    assert C / math.sqrt(high) < medium.velocity_m_per_ns < C / math.sqrt(low)


def test_depths_of_one_echo_are_in_the_ratio_of_the_velocities():
    """An echo at 24 ns lies at 1.8 m in dry sand, 1.44 m in limestone, 0.72 m in clay: d = v t / 2."""
    # d = vt/2 [source: GPG Processing]; velocities of the same book's table; products worked by hand.
    depths = [float(medium_velocity(n).depth_m(24.0)) for n in ("dry sand", "limestone", "clay")]
    assert depths == pytest.approx([1.80, 1.44, 0.72])
    assert depths[0] / depths[2] == pytest.approx(0.15 / 0.06)


def test_forty_ns_at_a_tenth_is_two_metres():
    """40 ns at 0.1 m/ns is 2.00 m."""
    # shared/trade.md 1.2, row "Depth".
    assert float(VelocityModel.constant(0.1, 0.01, "").depth_m(40.0)) == pytest.approx(2.0)


def test_a_soil_from_a_list_can_be_wrong_by_half():
    """Clay's published range spans more than a factor of two, and its deviation says so."""
    clay = medium_velocity("clay")
    assert 2 * clay.sd_m_per_ns / clay.mean_m_per_ns() > 0.5
