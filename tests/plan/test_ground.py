"""Ranges of ground before anyone has been there."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.errors import SiteError
from gridmap.plan.ground import CONDUCTIVITY_MS_PER_M, FAMILIES, guess_ground, water_loss
from gridmap.plan.request import GroundAsked
from gridmap.velocity.media import MEDIA

STATES = ("dry", "moist", "wet")
ONE_ROW = ["limestone", "silt", "shale", "granite", "peat"]


def test_every_medium_has_a_conductivity():
    """What a site file may name can be planned for."""
    assert set(CONDUCTIVITY_MS_PER_M) == {medium.name for medium in MEDIA}


@pytest.mark.parametrize("medium", [*FAMILIES, *ONE_ROW])
@pytest.mark.parametrize("mhz", [50, 250, 1500])
def test_wetter_ground_is_slower_and_absorbs_more(medium, mhz):
    """Water has the highest permittivity and carries the ions, so each end of the range moves one way."""
    guesses = [guess_ground(GroundAsked(medium, state)) for state in STATES]
    for end in ("low", "likely", "high"):
        slow = [getattr(g.velocity_m_per_ns, end) for g in guesses]
        loss = [getattr(g.absorption_db_per_m(mhz), end) for g in guesses]
        assert slow == sorted(slow, reverse=True)
        assert loss == sorted(loss)


@given(st.sampled_from([m.name for m in MEDIA] + list(FAMILIES)))
def test_ranges_are_in_order(name):
    """The likely value lies within its range."""
    g = guess_ground(GroundAsked(name))
    for span in (g.permittivity, g.conductivity_s_per_m, g.velocity_m_per_ns):
        assert 0 < span.low <= span.likely <= span.high


def test_a_measured_velocity_overrules_the_table():
    """0.1 m/ns with a deviation of 0.005 spans 0.09 to 0.11, two deviations either way."""
    v = guess_ground(GroundAsked("clay", None, 0.1, 0.005)).velocity_m_per_ns
    assert (v.low, v.likely, v.high) == pytest.approx((0.09, 0.1, 0.11))


def test_relaxation_of_water_grows_with_the_square_of_frequency():
    """Far below 17 GHz the Debye loss of water, as a conductivity, is proportional to f squared."""
    assert water_loss(200, 20) / water_loss(100, 20) == pytest.approx(4, rel=1e-3)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (GroundAsked(), "medium: is missing"),
        (GroundAsked("mud"), "is not known"),
        (GroundAsked("dry sand", "wet"), 'Write medium = "sand" and keep the wetness'),
        (GroundAsked("ice", "wet"), "Leave wetness out"),
        (GroundAsked(None, None, 0.1), "velocity_m_per_ns and conductivity_ms_per_m"),
    ],
)
def test_too_little_or_contradictory_is_refused(asked, words):
    """The message names the key and the fix."""
    with pytest.raises(SiteError, match="ground") as refused:
        guess_ground(asked)
    assert words in str(refused.value)
