"""Lines placed by surveyed points, from the site file to the places."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gridmap.errors import InputError, PlaceError, ReadError, SiteError
from gridmap.model import Line, PlacedLine, Similarity
from gridmap.pipeline.frame import map_frame
from gridmap.pipeline.read_lines import shared_places
from gridmap.pipeline.run import Run, quiet
from gridmap.place.dispatch import Placed, place_line
from gridmap.place.stations import place_by_stations
from gridmap.read.points import read_points
from gridmap.read.stations import read_stations
from gridmap.site.load import load_site

SITE = """
[site]
crs = "EPSG:32630"
[[control]]
name = "A"
local_m = [0, 0]
map_m = [431877.0, 5712345.0]
[[control]]
name = "B"
local_m = [10, 0]
map_m = [431877.0, 5712355.0]
[antenna]
frequency_mhz = 400
separation_m = 0.15
[stations]
file = "stations.csv"
[[lines]]
files = "L*.sgy"
positions = "stations"
"""
HEAD = "Line,Trace,Easting,Northing,Height\n"


def through_the_site_file(folder: Path, table: str, count: int = 101, site: str = SITE) -> list[Placed]:
    """Place lines L1 and L2 of so many traces as the main job does."""
    for name in ("L1.sgy", "L2.sgy"):
        (folder / name).write_bytes(b"")
    (folder / "stations.csv").write_text(table, encoding="utf-8")
    (folder / "site.toml").write_text(site, encoding="utf-8")
    loaded = load_site(folder / "site.toml")
    run = Run(quiet, (("all", 1.0),))
    survey = shared_places(loaded, map_frame(loaded, run), run)
    return [place_line(Line(p.name, np.zeros((count, 2), np.float32), 0.2), p, survey) for p in loaded.lines]


def test_surveyed_traces_lie_on_their_points(tmp_path):
    """Local x runs north here: (E, N) = (431877 - y, 5712345 + x). Traces 1, 51, 101 are surveyed, the rest between."""
    table = HEAD + (
        "L2,1,431876,5712345,60\nL2,101,431876,5712355,62\n"
        "L1,1,431877,5712345,60\nL1,51,431877,5712349,61\nL1,101,431875,5712355,63\n"
    )
    one, two = through_the_site_file(tmp_path, table)
    assert one.line.xy_m[[0, 25, 50, 100]] == pytest.approx(
        np.array([[0, 0], [2, 0], [4, 0], [10, 2.0]]), abs=1e-6
    )
    assert one.line.elevation_m[[0, 25, 75]] == pytest.approx([60, 60.5, 62.0])
    assert two.line.xy_m[[0, 50]] == pytest.approx(np.array([[0, 1], [5, 1.0]]), abs=1e-6)
    assert two.warnings == ()


def placed(table: str, folder: Path, count: int = 101) -> tuple[PlacedLine, tuple[str, ...]]:
    (folder / "s.csv").write_text(table, encoding="utf-8")
    line = Line("L1", np.zeros((count, 2), np.float32), 0.2)
    return place_by_stations(line, read_stations(folder / "s.csv"), Similarity(0.0, 0.0, 1.0, 0.0))


def test_taped_distances_spread_the_traces(tmp_path):
    """Points at 0, 4 and 10 m of tape: 4 m of trigger count lie up to the second, and no height means none."""
    one, said = placed("line;station;x;y\nL1;0;1;1\nL1;4;5;1\nL1;10;5;7\n", tmp_path)
    assert one.xy_m[[0, 20, 40, 70, 100]] == pytest.approx(
        np.array([[1, 1], [3, 1], [5, 1], [5, 4], [5, 7.0]])
    )
    assert one.along_m[-1] == pytest.approx(10.0)
    assert (one.elevation_m, said) == (None, ())
    back, _ = placed("line;station;x;y\nL1;10;5;7\nL1;4;5;1\nL1;0;1;1\n", tmp_path)
    assert back.xy_m == pytest.approx(one.xy_m[::-1])


def test_points_alone_are_vertices_in_the_order_walked(tmp_path):
    """Without traces and distances the line is the polyline through its points."""
    one, _ = placed("line x y z\nL1 0 0 1\nL1 3 0 1\nL1 3 7 2\n", tmp_path)
    assert one.xy_m[[30, 100]] == pytest.approx(np.array([[3, 0], [3, 7.0]]))
    assert one.elevation_m[[30, 65]] == pytest.approx([1.0, 1.5])


def test_tape_and_survey_that_disagree_are_told(tmp_path):
    """Points 6 m apart by tape and 9 m by the survey are named."""
    _, said = placed("line,station,x,y\nL1,0,0,0\nL1,4,4,0\nL1,10,13,0\n", tmp_path)
    assert said == ("line L1: points 2 and 3 are taped 6.00 m apart and surveyed 9.00 m apart",)


@pytest.mark.parametrize(
    ("table", "error", "said"),
    [
        ("line,x,y\nL1,0,0\n", PlaceError, "1 points in s.csv, and two are the least"),
        ("line,x,y\nL2,0,0\nL2,1,1\n", PlaceError, r"0 points in s.csv.*it has L2.*Name the line there"),
        ("line,station,x,y\nL1,0,0,0\nL1,5,5,0\nL1,2,2,0\n", PlaceError, "do not go on in one direction"),
        ("line,trace,x,y\nL1,1,0,0\nL1,200,5,0\n", PlaceError, "no trace 200"),
        ("x,y\n0,0\n1,1\n", ReadError, "no column for line"),
        ("line,x,y\nL1,0,0\nL1,1,\n", ReadError, "s.csv:3: column y"),
        ("line,x,y\nL1,0,0\n,1,2\n", ReadError, "s.csv:3: column line .* names no line"),
        ("line,lon,lat\nL1,0,0\nL1,1,2\n", ReadError, "longitude and latitude are not taken"),
    ],
)
def test_what_is_wrong_is_told(table, error, said, tmp_path):
    """Each fault is one row that says which line or cell, and what to do."""
    with pytest.raises(error, match=said) as caught:
        placed(table, tmp_path)
    assert "\n" not in str(caught.value)


def test_the_site_file_and_its_points_belong_together(tmp_path):
    """positions = "stations" without the table, the table without a line, and map places without control points."""
    table = HEAD + "L1,1,431877,5712345,60\nL1,101,431877,5712349,61\n"
    bare = SITE.replace('[stations]\nfile = "stations.csv"\n', "")
    with pytest.raises(SiteError, match=r'L1 has positions = "stations", and there is no table \[stations\]'):
        through_the_site_file(tmp_path, table, site=bare)
    idle = SITE.replace('positions = "stations"', 'first_start_m = [0, 0]\ndirection = "+x"\nlength_m = 5\n'
                        'step_m = [0, 1]\nzigzag = true')  # fmt: skip
    with pytest.raises(SiteError, match="no line is placed by it"):
        through_the_site_file(tmp_path, table, site=idle)
    no_pegs = SITE[SITE.index("[antenna]") :]
    with pytest.raises(InputError, match="no control points"):
        through_the_site_file(tmp_path, table, site=no_pegs)


def test_columns_of_stations_do_not_change_how_points_are_read(tmp_path):
    """A list of ground points with a column "distance" reads as before."""
    (tmp_path / "p.csv").write_text("name,distance,x,y,z\nA,3,1,2,60\n", encoding="utf-8")
    assert read_points(tmp_path / "p.csv").xyz_m.tolist() == [[1.0, 2.0, 60.0]]
