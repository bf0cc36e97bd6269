"""[text] and [arrays] in the site file."""

import pytest

from gridmap.errors import SiteError
from gridmap.model.layout import ArrayLayout, TextLayout
from gridmap.site.load import load_site

SITE = """
[antenna]
frequency_mhz = 400
separation_m = 0.1

[[line]]
file = "a.csv"
start_m = [0, 0]
end_m = [0, 5]

"""


def load(tmp_path, tables):
    (tmp_path / "a.csv").write_text("0")
    path = tmp_path / "site.toml"
    path.write_text(SITE + tables, encoding="utf-8")
    return load_site(path)


def test_what_is_stated_reaches_the_record(tmp_path):
    """Every key of both tables."""
    layouts = load(
        tmp_path,
        """
[text]
delimiter = "semicolon"
decimal = ","
encoding = "latin-1"
header_rows = 2
traces_in = "columns"
before_samples = ["x", "y"]
sample_times = true
time_unit = "ns"

[arrays]
amplitude = "data"
traces_in = "rows"
time = "twt"
time_unit = "us"
x = "e"
y = "n"
number = "trigger"
utc_s = "t"
""",
    ).layouts
    assert layouts.text == TextLayout("semicolon", ",", "latin-1", 2, "columns", ("x", "y"), True, "ns")
    assert layouts.arrays == ArrayLayout("data", "rows", "twt", "us", "e", "n", "trigger", "t")


def test_nothing_stated_leaves_all_to_the_readers(tmp_path):
    """No tables: nothing is fixed."""
    layouts = load(tmp_path, "").layouts
    assert (layouts.text, layouts.arrays) == (TextLayout(), ArrayLayout())


@pytest.mark.parametrize(
    ("tables", "word"),
    [
        ('[text]\ndelimiter = "pipe"\n', "delimiter"),
        ("[text]\nheader_rows = 1.5\n", "header_rows"),
        ('[text]\nbefore_samples = ["z"]\n', "before_samples"),
        ("[arrays]\namplitude = 3\n", "amplitude"),
        ('[text]\ntraces = "rows"\n', "traces_in"),
    ],
)
def test_wrong_values_name_the_key(tmp_path, tables, word):
    """The message names the key, or the key that was meant."""
    with pytest.raises(SiteError, match=word):
        load(tmp_path, tables)
