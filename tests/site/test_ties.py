"""Things of known depth in the site file."""

import pytest

from gridmap.errors import SiteError
from gridmap.site.keys import Table
from gridmap.site.tables import read_ties


def tables(*values):
    return [Table("site.toml", "", "tie", i, v) for i, v in enumerate(values)]


def test_a_tie_is_read():
    """Name, place, depth and deviation come through; without a name it is counted."""
    whole = {"name": "main", "local_m": [4.2, 1.5], "depth_m": 0.85, "depth_sd_m": 0.03, "time_ns": 17.0}
    bare = {k: v for k, v in whole.items() if k not in ("name", "time_ns")}
    first, second = read_ties(tables(whole, bare))
    assert (first.name, first.x_m, first.y_m, first.depth_m, first.time_ns) == ("main", 4.2, 1.5, 0.85, 17.0)
    assert (second.name, second.time_ns) == ("tie 2", None)


def test_faster_than_light_is_refused():
    """1 m in 5 ns two-way would be faster than light in air (6.67 ns)."""
    with pytest.raises(SiteError, match="light in air"):
        read_ties(tables({"local_m": [0, 0], "depth_m": 1.0, "depth_sd_m": 0.1, "time_ns": 5.0}))


def test_what_is_missing_is_named():
    """A tie without its deviation is refused with the key to add."""
    with pytest.raises(SiteError, match="depth_sd_m"):
        read_ties(tables({"local_m": [0, 0], "depth_m": 1.0}))
