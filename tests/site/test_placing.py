"""Site files whose lines are placed by a track, wheel, marks or a polyline."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from gridmap.errors import SiteError
from gridmap.model import Line, Points
from gridmap.place.dispatch import place_line, prepare_survey
from gridmap.site.load import load_site
from gridmap.site.records import Site

SITES = Path(__file__).parents[1] / "sites"
LANE = Path(__file__).parents[2] / "../shared/surveys/lane"
HEAD = "[antenna]\nfrequency_mhz = 400\nseparation_m = 0.15\n"


@pytest.fixture
def site(tmp_path: Path):
    """Load a site file of the text below the antenna; two line files, a track and ground points are there."""
    for name in ("L1.sgy", "L2.sgy", "t.nmea", "ground.csv", "dem.tif"):
        (tmp_path / name).write_bytes(b"data")

    def load(text: str) -> Site:
        (tmp_path / "site.toml").write_text(HEAD + text, encoding="utf-8")
        return load_site(tmp_path / "site.toml")

    return load


def line(count: int = 101) -> Line:
    return Line("L1", np.zeros((count, 2), np.float32), 0.2)


def test_the_lane_says_what_its_field_book_says():
    """Lines, antenna, control points and the pole of the lane's site file are those of site.json."""
    if not (LANE / "site.json").is_file():
        pytest.skip("surveys/lane is not beside this repository")
    book = json.loads((LANE / "site.json").read_text(encoding="utf-8"))
    lane = load_site(SITES / "lane.toml", data=LANE)
    assert [(p.name, p.file.name, p.placing) for p in lane.lines] == [
        (own["name"], Path(own["file"]).name, "track") for own in book["lines"]
    ]
    assert lane.track is not None
    assert lane.track.file.name == book["gnss"]["file"]
    assert "1.80 m above" in book["gnss"]["antenna"]
    assert lane.track.lever_arm_m == (0.0, 0.0, 1.8)
    assert [(p.x_m, p.y_m, p.easting_m, p.northing_m) for p in lane.control] == [
        (*p["local_m"], p["easting"], p["northing"]) for p in book["control_points"]
    ]
    assert (lane.crs, lane.antenna.frequency_mhz) == (book["crs"], book["nominal_frequency_mhz"])
    assert (lane.antenna.separation_m, lane.antenna.height_m) == (
        book["antenna_separation_m"],
        book["antenna_height_m"],
    )
    assert lane.processing.sample_interval_ns == book["sample_interval_ns"]


def test_every_key_of_the_track_is_read(site):
    """A full [track] table."""
    plan = site(
        '[track]\nfile = "t.nmea"\nformat = "text"\ncolumns = { time = "utc", easting = 2 }\nframe = "map"\n'
        "sd_m = 0.02\n"
        'time_offset_s = "find"\nlatency_s = 0.2\nlever_arm_m = [0.1, -0.2, 1.8]\ngap_max_s = 3\n'
        'min_quality = "fixed"\n'
        '[[line]]\nfile = "L1.sgy"\npositions = "track"\n'
    ).track
    assert (plan.format, plan.columns, plan.frame, plan.sd_m) == (
        "text",
        {"time": "utc", "easting": 2},
        "map",
        0.02,
    )
    assert (plan.time_offset_s, plan.latency_s, plan.lever_arm_m) == (None, 0.2, (0.1, -0.2, 1.8))
    assert (plan.gap_max_s, plan.min_quality) == (3.0, "fixed")


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ("start_m = [0, 0]\nend_m = [5, 0]", [0.0, 2.5, 5.0]),
        ('start_m = [0, 0]\ndirection = "+x"\nnominal_spacing_m = 0.04', [0.0, 2.0, 4.0]),
        ('positions = "wheel"\nstart_m = [0, 0]\ndirection = "+x"\nlength_m = 6', [0.0, 3.0, 6.0]),
        ("polyline_m = [[0, 0], [2, 0], [8, 0]]", [0.0, 4.0, 8.0]),
        ("marks = [[1, 0, 0], [51, 1, 0], [101, 9, 0]]", [0.0, 1.0, 9.0]),
        ("start_m = [0, 0]\nend_m = [9, 0]\nmarks_m = [[1, 0], [51, 1], [101, 9]]", [0.0, 1.0, 9.0]),
        (
            'start_m = [0, 0]\ndirection = "+x"\nmark_traces = [1, 26, 51, 76, 78, 101]\nmark_every_m = 2',
            [0.0, 4.0, 8.0],
        ),
    ],
)
def test_a_line_is_placed_by_what_its_keys_say(site, keys, expected):
    """From site file to places: pegs, wheel with and without a length, polyline, marks with places or distances."""
    loaded = site(f'[[line]]\nfile = "L1.sgy"\n{keys}\n')
    placed = place_line(line(), loaded.lines[0], prepare_survey(loaded))
    assert placed.line.xy_m[[0, 50, 100], 0] == pytest.approx(expected, abs=0.05 if "every" in keys else 1e-9)
    assert (np.diff(placed.line.along_m) > 0).all()
    if "every" in keys:
        assert "traces 76" in placed.warnings[-1] or "traces 78" in placed.warnings[-1]


def test_a_rule_of_lines_may_be_placed_by_wheel_or_track(site):
    """[[lines]] with positions: wheel keeps pegs as starts; track needs no pegs at all."""
    rule = '[[lines]]\nfiles = "L*.sgy"\n'
    pegs = 'first_start_m = [0, 0]\ndirection = "+y"\nlength_m = 5\nspacing_m = 0.5\ntoward = "+x"\nzigzag = true\n'
    loaded = site(rule + pegs + 'positions = "wheel"\nnominal_spacing_m = 0.04\n')
    second = place_line(line(), loaded.lines[1], prepare_survey(loaded)).line.xy_m
    assert second[[0, -1]] == pytest.approx(np.array([[0.5, 5.0], [0.5, 1.0]]))
    by_track = site('[track]\nfile = "t.nmea"\n' + rule + 'positions = "track"\n')
    assert [p.placing for p in by_track.lines] == ["track", "track"]
    assert np.isnan(by_track.lines[0].start_m).all()


def test_ground_points_give_every_trace_its_height(site):
    """Elevation comes from the points; traces outside are told."""
    loaded = site(
        '[terrain]\npoints = "ground.csv"\n[[line]]\nfile = "L1.sgy"\nstart_m = [0, 1]\nend_m = [10, 1]\n'
    )
    xyz = np.array([[0, 0, 1.0], [5, 0, 2.0], [5, 3, 2.0], [0, 3, 1.0]])
    ground = Points(("",) * 4, "local", xyz, "ground.csv")
    placed = place_line(line(), loaded.lines[0], prepare_survey(loaded, ground=ground))
    assert placed.line.elevation_m[[0, 25]] == pytest.approx([1.0, 1.5])
    assert np.isnan(placed.line.elevation_m[-1])
    assert "outside the ground heights" in placed.warnings[0]


PEGS = "start_m = [0, 0]\nend_m = [1, 0]\n"
ONE = '[[line]]\nfile = "L1.sgy"\n'
TRACKED = ONE + 'positions = "track"\n'
TRACK = '[track]\nfile = "t.nmea"\n'
MARKS = "marks = [[1, 0, 0], [2, 1, 0]]\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (TRACKED, r"no table \[track\]"),
        (TRACK + ONE + PEGS, "no line is placed by it"),
        ('[track]\nformat = "nmea"\n' + TRACKED, "file is missing"),
        ('[track]\nfile = "u.nmea"\n' + TRACKED, "no file u.nmea.*near it: t.nmea"),
        (TRACK + "lever_arm_m = [0, 1]\n" + TRACKED, "three numbers"),
        (TRACK + 'min_quality = "fix"\n' + TRACKED, "did you mean fixed"),
        (TRACK + 'time_offset_s = "x"\n' + TRACKED, "number is expected"),
        (TRACK + "columns = { time = [] }\n" + TRACKED, "neither a heading"),
        (ONE + 'positions = "gps"\n', "not a choice"),
        ('[[lines]]\nfiles = "L*.sgy"\npositions = "marks"\n', "not a choice"),
        (ONE + "polyline_m = [[0, 0]]\n", "two or more rows of 2"),
        (ONE + 'marks = [[1, 0, 0], [2, "a", 0]]\n', "two or more rows of 3"),
        (ONE + MARKS + "marks_m = [[1, 0], [2, 1]]\n", "marks is given too"),
        (ONE + MARKS + "nominal_spacing_m = 0.05\n", "placed by its marks already"),
        (TRACKED + "marks_m = [[1, 0], [2, 1]]\n", 'belongs to positions = "marks"'),
        (ONE + PEGS + "mark_traces = [1, 2.5]\nmark_every_m = 5\n", "whole numbers"),
        (ONE + "start_m = [0, 0]\nnominal_spacing_m = 0.05\n", "direction is missing"),
        (ONE + 'direction = "+x"\nnominal_spacing_m = 0.05\n', "start_m is missing"),
        ("[terrain]\n" + ONE + PEGS, "points is missing"),
        ('[terrain]\ndem = "dem.tif"\n' + ONE + PEGS, "no crs"),
        ('[terrain]\ndem = "dem.tif"\npoints = "ground.csv"\n' + ONE + PEGS, "given too"),
    ],
)
def test_what_cannot_be_right_names_the_key_and_the_fix(site, text, said):
    """One row that says where and what to do."""
    with pytest.raises(SiteError, match=said) as caught:
        site(text)
    assert "\n" not in str(caught.value)
    assert "site.toml" in str(caught.value)
