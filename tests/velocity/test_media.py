"""The table of media: look-up and errors; values are checked in tests/trade."""

import pytest

from gridmap.errors import SiteError
from gridmap.velocity.media import MEDIA, find_medium, medium_velocity


def test_names_are_found_whatever_their_case_and_joints():
    """Capitals, hyphens and underscores do not matter."""
    assert find_medium("Dry-Sand") is find_medium("dry_sand") is find_medium("dry sand")


@pytest.mark.parametrize(
    ("typed", "meant"), [("dry snad", "dry sand"), ("limstone", "limestone"), ("sand", "dry")]
)
def test_a_wrong_name_gets_a_suggestion(typed, meant):
    """The error names the nearest medium, lists all, and stays on one line."""
    with pytest.raises(SiteError, match=f"Did you mean '{meant}") as error:
        find_medium(typed)
    assert "\n" not in str(error.value)
    assert "granite" in str(error.value)


def test_nonsense_gets_the_list_and_no_suggestion():
    """A name near nothing gets no suggestion."""
    with pytest.raises(SiteError, match="Known media") as error:
        find_medium("xqzzy")
    assert "Did you mean" not in str(error.value)


def test_every_medium_is_sound():
    """Names are unique, sources named, the velocity near its range, and its deviation wide enough for it."""
    assert len({m.name for m in MEDIA}) == len(MEDIA)
    for m in MEDIA:
        slow, fast = m.range_m_per_ns
        v, sd = m.velocity_m_per_ns, m.sd_m_per_ns
        assert m.source
        assert v - 2 * sd - 1e-9 <= slow
        assert fast <= v + 2 * sd + 1e-9


def test_the_model_says_where_it_comes_from():
    """The model carries the source."""
    model = medium_velocity("granite")
    assert "granite" in model.source
    assert "Geophysics for Practicing Geoscientists" in model.source
