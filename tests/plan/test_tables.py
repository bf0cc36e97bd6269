"""The request file: every mistake names its key and its fix."""

import pytest

from gridmap.errors import SiteError
from gridmap.plan.survey import plan_survey
from gridmap.plan.tables import read_request


def asked(**changes):
    document = {
        "site": {"name": "Mill lane", "sides_m": [20, 10]},
        "sought": {"shape": "line", "material": "metal", "size_m": 0.1, "depth_m": 1.0},
        "ground": {"medium": "topsoil", "wetness": "moist"},
        "antenna": [{"frequency_mhz": 400, "separation_m": 0.15}],
    }
    for name, table in changes.items():
        old = document.get(name, {})
        document[name] = {**old, **table} if isinstance(table, dict) and isinstance(old, dict) else table
    return document


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sougth": {}}, "did you mean sought"),
        ({"sought": {"dept_m": 1}}, "did you mean depth_m"),
        ({"sought": {"depth_m": "1"}}, "depth_m"),
        ({"sought": {"depth_m": float("nan")}}, "finite"),
        ({"sought": {"shape": "pipe"}}, "line, body, layer"),
        ({"sought": {"material": "metall"}}, "Did you mean 'metal'"),
        ({"sought": {"permittivity": 0.5}}, "from 1 to 90"),
        ({"site": {"sides_m": [0, 5]}}, "sides of 0.5 to 2000 m"),
        ({"site": {"corners_m": [[0, 0], [1, 1], [2, 0]]}}, "only one can be right"),
        ({"antenna": []}, "no [[antenna]]"),
        ({"antenna": {"frequency_mhz": 400}}, "[[antenna]]"),
        ({"antenna": [{"frequency_mhz": 400}]}, "separation_m is missing"),
        ({"ground": {"wetness": "damp"}}, "dry, moist, wet"),
        ({"walk": {"suffix": "../x"}}, "letters and digits"),
        ({"walk": {"spacing_m": 0}}, "spacing_m"),
        ({"site": {"sides_m": [2000, 2000]}}, "more than 2000 lines"),
    ],
)
def test_mistakes_are_named(changes, words):
    """Table, key and what to write instead."""
    with pytest.raises(SiteError) as refused:
        plan_survey(read_request(asked(**changes), "options"))
    assert words in str(refused.value)


def test_the_row_of_a_mistake_is_told():
    """A message leads to the row in the file."""
    text = "[sought]\nshape = 'line'\nmaterial = 'metal'\nsize_m = -1\ndepth_m = 1\n"
    with pytest.raises(SiteError, match=r"wish\.toml:4: "):
        read_request(asked(sought={"size_m": -1}), "wish.toml", text)


@pytest.mark.parametrize(
    ("changes", "axes"),
    [
        ({}, ("x", "y")),
        ({"sought": {"trend": "x"}}, ("y",)),
        ({"sought": {"trend": "y"}}, ("x",)),
        ({"sought": {"shape": "body"}}, ("x",)),
        ({"walk": {"both_ways": False}}, ("x",)),
        ({"sought": {"shape": "body"}, "walk": {"both_ways": True}}, ("x", "y")),
    ],
)
def test_lines_cross_what_may_run_anywhere(changes, axes):
    """Both ways where a line may run any way (a line along a pipe hardly shows it), else across the trend."""
    plan = plan_survey(read_request(asked(**changes), "options"))
    assert plan.axes == axes
    told = any("runs along the walking" in c for c in plan.cautions)
    assert told == (changes == {"walk": {"both_ways": False}})


def test_too_wide_a_spacing_is_warned_about_in_different_words():
    """Missed between lines, unlit ground, and aliasing are three things."""
    narrow = plan_survey(read_request(asked(walk={"spacing_m": 0.05}), "options")).cautions
    wide = plan_survey(read_request(asked(walk={"spacing_m": 1.0}), "options")).cautions
    for words in ("between two lines unseen", "lit from no line", "alias"):
        assert not any(words in caution for caution in narrow)
        assert sum(words in caution for caution in wide) == 1


def test_walking_adds_up():
    """41 lines of 20 m and 40 steps of 0.25 m at 0.8 m/s, 20 s a turn and an hour besides."""
    plan = plan_survey(read_request(asked(sought={"trend": "y"}), "options"))
    assert (len(plan.lines), plan.effort.line_m, plan.effort.between_m) == (41, 820, pytest.approx(10))
    assert plan.effort.hours == pytest.approx((830 / 0.8 + 41 * 20 + 3600) / 3600)
