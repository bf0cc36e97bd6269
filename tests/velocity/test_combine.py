"""Which velocity wins, and what is said about it."""

import numpy as np
import pytest

from gridmap.errors import SiteError
from gridmap.site.records import Ground
from gridmap.velocity.combine import choose_velocity
from gridmap.velocity.hyperbola import HyperbolaFits


def fits(velocities, times=None, line=None):
    """Accepted single hyperbolas, one a line unless said otherwise."""
    n = len(velocities)
    v = np.array(velocities, float)
    t = np.full(n, 15.0) if times is None else np.array(times, float)
    index = np.arange(n) if line is None else np.array(line)
    return HyperbolaFits(
        index, np.full(n, 2.0), np.full(n, 2.0), np.zeros(n), t, 0.5 * v * t, v, 0.02 * v, np.full(n, 0.95),
        np.full(n, 20), np.full(n, np.nan), np.full(n, np.nan), np.arange(n), np.ones(n, bool), ("accepted",) * n, 0.04,
        tuple(range(n)),
    )  # fmt: skip


MANY = fits([0.1] * 8)


def test_hyperbolas_decide_where_nothing_is_said():
    """Eight hyperbolas of 0.1 m/ns give 0.1 m/ns with a modest deviation and no warning."""
    choice = choose_velocity(Ground(), MANY)
    assert choice.basis == "hyperbolas"
    assert choice.model.mean_m_per_ns() == pytest.approx(0.1, rel=0.02)
    assert 0.02 < choice.model.sd_m_per_ns / 0.1 < 0.06
    assert choice.warnings == ()
    assert "8 of 8" in choice.evidence[0]


@pytest.mark.parametrize(
    "seen", [None, fits([]), fits([0.08] * 3), fits([0.08] * 6, line=[0] * 6), fits([0.06, 0.08, 0.12, 0.16])]
)
def test_too_few_or_too_vague_falls_back_with_a_warning(seen):
    """None, three, all on one line, or all at odds: the wide default 0.1 +- 0.02, and a warning."""
    choice = choose_velocity(Ground(), seen)
    assert choice.basis == "default"
    assert choice.model.mean_m_per_ns() == pytest.approx(0.10)
    assert choice.model.sd_m_per_ns == pytest.approx(0.02)
    assert "could not be found" in choice.warnings[0]
    assert choice.evidence


def test_a_stated_velocity_wins_and_the_contradiction_is_said():
    """0.13 +- 0.003 stated against hyperbolas of 0.1: 0.13 is used, with a warning that says slower."""
    choice = choose_velocity(Ground(velocity_m_per_ns=0.13, velocity_sd_m_per_ns=0.003), MANY)
    assert choice.basis == "stated"
    assert choice.model.mean_m_per_ns() == pytest.approx(0.13)
    assert choice.model.sd_m_per_ns == pytest.approx(0.003)
    assert "disagree" in choice.warnings[0]
    assert "slower" in choice.warnings[0]


def test_a_stated_velocity_without_deviation_gets_ten_percent():
    """0.1 stated alone means 0.1 +- 0.01, said in words, and no warning where the hyperbolas agree."""
    choice = choose_velocity(Ground(velocity_m_per_ns=0.1), MANY)
    assert choice.model.sd_m_per_ns == pytest.approx(0.01)
    assert "10%" in choice.evidence[0]
    assert choice.warnings == ()


def test_a_medium_without_hyperbolas_is_used_with_its_range():
    """Limestone alone gives 0.12 m/ns, its wide deviation, and a warning."""
    choice = choose_velocity(Ground(medium="limestone"), None)
    assert choice.basis == "medium"
    assert choice.model.mean_m_per_ns() == pytest.approx(0.12)
    assert choice.model.sd_m_per_ns >= 0.006
    assert "name of the medium alone" in choice.warnings[0]


def test_a_medium_that_agrees_is_prior():
    """Limestone and hyperbolas of 0.115 agree: the result lies between, and the source names both."""
    choice = choose_velocity(Ground(medium="limestone"), fits([0.115] * 8))
    assert choice.basis == "hyperbolas"
    assert 0.113 < choice.model.mean_m_per_ns() < 0.12
    assert "limestone" in choice.model.source
    assert choice.warnings == ()


def test_a_medium_that_contradicts_is_set_aside_with_a_warning():
    """Dry sand (0.15) against hyperbolas of 0.07: the hyperbolas are used and the warning says so."""
    choice = choose_velocity(Ground(medium="dry sand"), fits([0.07] * 8))
    assert choice.model.mean_m_per_ns() == pytest.approx(0.07, rel=0.03)
    assert "dry sand" in choice.warnings[0]
    assert "hyperbolas are used" in choice.warnings[0]


def test_an_unknown_medium_is_an_error_even_when_hyperbolas_would_do():
    """A misspelt medium is never passed over in silence."""
    with pytest.raises(SiteError, match="limestone"):
        choose_velocity(Ground(medium="limstone"), MANY)


def test_every_sentence_is_one_line():
    """Evidence and warnings can stand on a screen as they are."""
    for ground in (
        Ground(),
        Ground(medium="peat"),
        Ground(velocity_m_per_ns=0.2, velocity_sd_m_per_ns=0.001),
    ):
        choice = choose_velocity(ground, MANY)
        assert all("\n" not in s and "  " not in s for s in (*choice.evidence, *choice.warnings))
