"""[[swaths]]: where each channel of an array ran."""

from pathlib import Path

import pytest

from gridmap.errors import SiteError
from gridmap.site.load import load_site

HEAD = """
[site]
name = "array"
[antenna]
frequency_mhz = 400
separation_m = 0.14
"""


def site_with(folder: Path, body: str, names):
    (folder / "lines").mkdir(exist_ok=True)
    for name in names:
        (folder / "lines" / f"{name}.sgy").write_bytes(b"")
    path = folder / "site.toml"
    path.write_text(HEAD + body)
    return load_site(path)


def names(swaths, channels):
    return [f"S{s + 1:03d}_C{c + 1:02d}" for s in range(swaths) for c in range(channels)]


RULE = """
[[swaths]]
files = "lines/S*_C*.sgy"
channels = 4
channel_spacing_m = 0.1
first_start_m = [1.0, 0.0]
first_end_m = [1.0, 10.0]
step_m = [0.4, 0.0]
zigzag = true
"""


def test_channels_lie_beside_the_middle_leftmost_first(tmp_path):
    """Driven in +y, left is -x; driven back, the same channel lies on the other side."""
    lines = site_with(tmp_path, RULE, names(3, 4)).lines
    assert [p.start_m for p in lines[:4]] == [(0.85, 0), (0.95, 0), (1.05, 0), (1.15, 0)]
    assert [p.start_m for p in lines[4:8]] == [(1.55, 10), (1.45, 10), (1.35, 10), (1.25, 10)]
    assert [p.end_m for p in lines[4:6]] == [(1.55, 0), (1.45, 0)]
    assert [(p.swath, p.channel, p.block) for p in lines[3:6]] == [(0, 3, 0), (1, 0, 0), (1, 1, 0)]


def test_first_channel_may_be_on_the_right(tmp_path):
    """first_channel = "right" mirrors the array."""
    lines = site_with(tmp_path, RULE + 'first_channel = "right"\n', names(2, 4)).lines
    assert [p.start_m[0] for p in lines[:4]] == [1.15, 1.05, 0.95, 0.85]


def test_two_blocks_have_their_own_numbers(tmp_path):
    """A second table is a second block; swaths are counted through the survey."""
    body = RULE.replace("lines/S*", "lines/A_S*") + RULE.replace("lines/S*", "lines/B_S*")
    made = [f"{b}_{n}" for b in "AB" for n in names(2, 4)]
    lines = site_with(tmp_path, body, made).lines
    assert sorted({(p.block, p.swath) for p in lines}) == [(0, 0), (0, 1), (1, 2), (1, 3)]


def test_a_track_places_the_array_and_channels_lie_aside(tmp_path):
    """With a track, each channel knows how far it lies to the left of the array's middle."""
    body = """
[[control]]
name = "A"
local_m = [0, 0]
map_m = [0, 0]
[[control]]
name = "B"
local_m = [10, 0]
map_m = [10, 0]
[track]
file = "track.txt"
format = "text"
[[swaths]]
files = "lines/S*_C*.sgy"
channels = 4
channel_spacing_m = 0.1
positions = "track"
"""
    (tmp_path / "track.txt").write_text("utc_s,x,y\n0,0,0\n1,0,1\n")
    lines = site_with(tmp_path, body, names(1, 4)).lines
    assert [p.aside_m for p in lines] == [0.15, 0.05, -0.05, -0.15]
    assert {p.placing for p in lines} == {"track"}


@pytest.mark.parametrize(("missing", "said"), [("S002_C04", "do not divide"), ("S002_C02", "do not divide")])
def test_a_missing_channel_is_an_error(tmp_path, missing, said):
    """A file that is missing would put all that follow in a wrong place."""
    with pytest.raises(SiteError, match=said):
        site_with(tmp_path, RULE, [n for n in names(3, 4) if n != missing])


def test_a_channel_under_another_number_is_named(tmp_path):
    """A swath without channel 2 but with a channel 5 does not have the channels of the first."""
    wrong = [n.replace("S002_C02", "S002_C05") for n in names(3, 4)]
    with pytest.raises(SiteError, match=r"S002_C03\.sgy stands where channel 2 of swath 2 should"):
        site_with(tmp_path, RULE, wrong)


def test_channels_in_turn_come_from_one_file(tmp_path):
    """channels_in = "turn": a file a swath, and a line for each of its channels."""
    lines = site_with(
        tmp_path, RULE.replace("S*_C*", "S*") + 'channels_in = "turn"\n', ["S001", "S002"]
    ).lines
    assert [p.name for p in lines[3:6]] == ["S001_C04", "S002_C01", "S002_C02"]
    assert {(p.file.name, p.channel, p.channels) for p in lines[4:6]} == {
        ("S002.sgy", 0, 4),
        ("S002.sgy", 1, 4),
    }
    assert lines[4].start_m == (1.55, 10)
