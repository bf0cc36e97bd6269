"""Changes saved in features.gpkg: by which rules, and what other libraries then read."""

import json
import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor

import geopandas
import pyogrio
import pytest
import shapely

from gridmap.model import IDENTITY
from gridmap.page.change import ChangeError, read_change
from gridmap.page.rows import all_rows
from gridmap.page.save import save_change
from gridmap.read.edits import read_edits

LINE = [[500000.5, 5400000.5], [500001.5, 5400001.0]]


@pytest.fixture
def path(mapped, tmp_path):
    return shutil.copy(mapped[0].out / "features.gpkg", tmp_path / "features.gpkg")


@pytest.fixture
def pipe(path):
    return next(row for row in all_rows(path) if row["layer"] == "linear")


def save(file, **asked):
    return save_change(file, read_change(json.loads(json.dumps(asked))))


def accept(row, before="found"):
    return {"layer": row["layer"], "fid": row["fid"], "set": {"status": [before, "accepted"]}}


def test_what_is_said_is_what_the_next_run_reads(path, pipe):
    """`read_edits`, which every run asks, finds the accepted row, its class and its note, and no other touched."""
    words = {"status": ["found", "accepted"], "class": ["unknown", "water"], "note": [None, "at \u202eend"]}
    save(path, layer="linear", fid=pipe["fid"], set=words)
    crs = pyogrio.read_info(path, layer="linear")["crs"]
    touched = [row for row in read_edits(path, crs, IDENTITY).rows if row.touched]
    assert [(row.id, row.said.status, row.said.class_name, row.said.note) for row in touched] == [
        (pipe["columns"]["id"], "accepted", "water", "at \u202eend")
    ]
    assert not touched[0].own_shape


def test_a_moved_line_is_the_persons_and_keeps_its_heights(path, pipe):
    """The next run knows the shape as moved; Z at the moved vertex follows its neighbours along the line."""
    moved = [list(at) for at in pipe["path"]]
    moved[-1][1] = round(moved[-1][1] + 0.4, 3)
    saved = save(
        path, layer="linear", fid=pipe["fid"], path=[pipe["path"], moved], set={"status": ["found", "drawn"]}
    )
    assert saved.row["path"] == moved
    crs = pyogrio.read_info(path, layer="linear")["crs"]
    row = next(row for row in read_edits(path, crs, IDENTITY).rows if row.id == pipe["columns"]["id"])
    assert row.own_shape
    z = shapely.get_coordinates(geopandas.read_file(path, layer="linear").geometry[0], include_z=True)[:, 2]
    assert z.min() > -0.75
    assert z.max() < -0.45  # the pipe's top lies at 0.6 m
    assert saved.row["columns"]["length_m"] == pytest.approx(shapely.LineString(moved).length, abs=0.006)


def test_spatial_index_and_extent_follow(path):
    """GDAL finds the drawn line by its box through the index, and SQLite calls the file whole."""
    far = [[500100.0, 5400100.0], [500101.0, 5400101.0]]
    save(path, layer="linear", fid=None, add={"path": far, "columns": {"status": "drawn", "when": "t"}})
    found = geopandas.read_file(path, layer="linear", bbox=(500099, 5400099, 500102, 5400102))
    assert [list(map(list, shape.coords)) for shape in shapely.force_2d(found.geometry)] == [far]
    assert pyogrio.read_info(path, layer="linear")["total_bounds"][2] == pytest.approx(500101.0, abs=0.1)
    with sqlite3.connect(path) as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_two_who_change_the_same_are_told(path, pipe):
    """The second judgement of the same row is refused with the row as it stands; other words of it are not."""
    assert not save(path, **accept(pipe)).refused
    late = save(path, layer="linear", fid=pipe["fid"], set={"status": ["found", "rejected"]})
    assert late.refused
    assert late.row["columns"]["status"] == "accepted"
    noted = save(path, layer="linear", fid=pipe["fid"], set={"note": [None, "seen"]})
    assert not noted.refused
    assert noted.row["columns"]["status"] == "accepted"


def test_a_change_sent_twice_counts_once(path, pipe):
    """After an answer that never came the browser asks again: same row, no second one."""
    for _ in range(2):
        assert not save(path, **accept(pipe)).refused
    new = {"path": LINE, "columns": {"id": "L9", "status": "drawn", "when": "2026-01-01T00:00:00.000Z"}}
    first, second = (save(path, layer="linear", fid=None, add=new).row for _ in range(2))
    assert first == second


def test_only_what_a_person_drew_can_be_removed(path, pipe):
    """A found feature is rejected, never removed: it would be found again."""
    drawn = save(path, layer="linear", fid=None, add={"path": LINE, "columns": {"status": "drawn"}}).row
    assert save(path, layer="linear", fid=drawn["fid"], remove=True).row is None
    with pytest.raises(ChangeError, match="reject"):
        save(path, layer="linear", fid=pipe["fid"], remove=True)


def test_new_rows_take_numbers_that_none_has(path, pipe):
    """Two browsers that both wish for L2 get different identities."""
    ids = set()
    for k in range(3):
        new = {"path": [[e, n + 0.1 * k] for e, n in LINE], "columns": {"id": "L2", "when": str(k)}}
        ids.add(save(path, layer="linear", fid=None, add=new).row["columns"]["id"])
    assert len(ids | {pipe["columns"]["id"]}) == 4


def test_many_writers_lose_nothing(path):
    """Forty lines drawn by eight threads at once are forty rows."""

    def draw(k):
        path_k = [[e + 0.01 * k, n] for e, n in LINE]
        return save(
            path,
            layer="linear",
            fid=None,
            add={"path": path_k, "columns": {"status": "drawn", "when": str(k)}},
        )

    with ThreadPoolExecutor(8) as pool:
        saved = list(pool.map(draw, range(40)))
    assert len({one.row["fid"] for one in saved}) == 40
    assert sum(row["columns"].get("status") == "drawn" for row in all_rows(path)) == 40


@pytest.mark.parametrize(
    "asked",
    [
        [],
        {"layer": "lines_walked", "fid": 1, "set": {"note": [None, "x"]}},
        {"layer": "linear", "fid": 1, "set": {"depth_top_m": [0.6, 0.1]}},
        {"layer": "linear", "fid": 1, "set": {"status": ["found", "certain"]}},
        {"layer": "linear", "fid": 1, "set": {"note": [None, "x" * 5000]}},
        {"layer": "linear", "fid": 1, "set": {"depth_said_m": [None, -1]}},
        {"layer": "linear", "fid": True, "remove": True},
        {"layer": "linear", "fid": None, "add": {"path": [[0, 0], [0, 0]], "columns": {}}},
        {"layer": "linear", "fid": None, "add": {"path": [[0, 0], [float("nan"), 0]], "columns": {}}},
        {"layer": "linear", "fid": None, "add": {"path": LINE, "columns": {"geom": "x"}}},
        {"layer": 'linear"; DROP TABLE linear; --', "fid": 1, "remove": True},
        {"layer": "rejected", "fid": None, "add": {"path": LINE, "columns": {}}},
    ],
)
def test_what_no_page_asks_is_refused(asked):
    """Machine's columns, other layers, odd numbers and long words never reach the file."""
    with pytest.raises(ChangeError):
        read_change(asked)


def test_an_area_whose_edge_crosses_itself_is_refused(path):
    """A bow tie has no inside that can be measured."""
    bow = [[0, 0], [1, 1], [1, 0], [0, 1]]
    with pytest.raises(ChangeError, match="crosses itself"):
        save(path, layer="outlines", fid=None, add={"path": bow, "columns": {}})
