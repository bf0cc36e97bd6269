"""Recipes: those that come with gridmap, and a user's own."""

import pytest

from gridmap.errors import SiteError
from gridmap.site.load import load_site
from gridmap.site.recipes import GENERAL, RECIPE_KEYS, named_recipe, parse_recipe, recipe_names

SITE = """[antenna]
frequency_mhz = 400
separation_m = 0.1
[[line]]
file = "a.sgy"
start_m = [0, 0]
end_m = [5, 0]
[processing]
recipe = "{}"
"""


def site(tmp_path, recipe):
    (tmp_path / "a.sgy").write_bytes(b"x")
    (tmp_path / "site.toml").write_text(SITE.format(recipe))
    return load_site(tmp_path / "site.toml").processing.recipe


def test_the_five_recipes_are_there_and_read():
    """Each is valid TOML with known keys, and says what it is for."""
    assert recipe_names() == ("archaeology", "forensic", "general", "tanks", "utilities")
    for name in recipe_names():
        steps = named_recipe(name)
        assert steps.name == name
        assert steps.about


def test_the_general_recipe_is_what_a_site_gets_that_names_none():
    """configs/general.toml states every key, and its values are the program's defaults."""
    steps = named_recipe("general")
    for field in GENERAL.__slots__:
        if field != "about":
            assert getattr(steps, field) == getattr(GENERAL, field), field


def test_every_recipe_explains_its_choices():
    """Each table of each recipe has a comment of its own."""
    from gridmap.site.recipes import _shelf

    for name in recipe_names():
        text = (_shelf() / f"{name}.toml").read_text(encoding="utf-8")
        for part in text.split("\n[")[1:]:
            assert "\n# " in part, (name, part.split("]")[0])
    assert set(RECIPE_KEYS) == {
        part.split("]")[0] for part in (_shelf() / "general.toml").read_text().split("\n[")[1:]
    }


def test_a_site_file_names_a_recipe(tmp_path):
    """recipe = "utilities" in [processing]."""
    assert site(tmp_path, "utilities") == named_recipe("utilities")


def test_a_recipe_of_ones_own_lies_beside_the_site_file(tmp_path):
    """What it does not say stays as in the general recipe."""
    (tmp_path / "my.toml").write_text("[dewow]\nwindow_periods = 6\n")
    steps = site(tmp_path, "my.toml")
    assert (steps.name, steps.dewow_periods) == ("my", 6.0)
    assert steps.background_m == GENERAL.background_m


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[dewow]\nwindow_period = 4\n", ["my.toml:2", "window_period", "did you mean window_periods"]),
        ("[dewov]\nwindow_periods = 4\n", ["my.toml:1", "did you mean dewow"]),
        ("[dewow]\nwindow_periods = -1\n", ["my.toml:2", "window_periods = -1", "from 0 to 100"]),
        ('[time_zero]\nby = "guess"\n', ["my.toml:2", "by", "flank, first break, peak"]),
        ("[band]\ncorners = [2.0, 0.3]\n", ["my.toml:2", "corners", "multiples of the antenna"]),
        ("[gain]\nfitted = 1\n", ["my.toml:2", "fitted = true"]),
        ("about = 3\n", ["my.toml", "about", "quotes"]),
        ("[dewow\n", ["my.toml", "not TOML"]),
    ],
)
def test_errors_name_file_row_key_and_fix(text, says):
    """A wrong recipe is refused whole."""
    with pytest.raises(SiteError) as error:
        parse_recipe(text, "my.toml")
    for word in says:
        assert word in str(error.value)


@pytest.mark.parametrize(
    ("named", "says"),
    [
        ("utilites", ["did you mean utilities", "general"]),
        ("none.toml", ["none.toml", "utilities"]),
        ("../up.toml", ["recipe"]),
    ],
)
def test_a_recipe_that_is_not_there(tmp_path, named, says):
    """The site file's row and the choices are named; a path out of the folder is refused."""
    (tmp_path.parent / "up.toml").write_text("")
    with pytest.raises(SiteError, match=r"site\.toml:9") as error:
        site(tmp_path, named)
    for word in says:
        assert word in str(error.value)
