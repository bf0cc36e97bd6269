"""Watching a folder: real files that arrive in pieces, written by other processes while it is watched."""

import hashlib
import shutil
import subprocess
import sys
import time

import numpy as np
import pytest

from gridmap.check.arrivals import Event, Patience
from gridmap.errors import InputError
from gridmap.pipeline.watch import Judged, Watcher
from gridmap.read.segy_write import write_segy
from gridmap.read.sniff import read_line

PATIENCE = Patience(rest=0.3, doubt=4.0, stuck=1.0)
WRITER = """
import os, sys, time
source, target, way, pause = *sys.argv[1:4], float(sys.argv[4])
data = open(source, "rb").read()
step = 4096
starts = list(range(0, len(data), step))
name = target
if way == "temporary":  # as many copiers do: another name first
    name = os.path.join(os.path.dirname(target), "." + os.path.basename(target) + ".x7Kq")
with open(name, "wb", buffering=0) as out:
    if way == "laid out":  # full length first, then filled, the beginning last
        out.truncate(len(data))
        starts.reverse()
    for start in starts:
        out.seek(start)
        out.write(data[start : start + step])
        os.fsync(out.fileno())
        time.sleep(pause)
if name != target:
    os.replace(name, target)
"""


def line_file(path, seed, traces=40, samples=150):
    """A line whose trace records are 840 bytes long, so that no piece of 4096 bytes ends with a trace."""
    data = np.random.default_rng(seed).standard_normal((traces, samples)).astype(np.float32)
    write_segy(path, data, sample_interval_ps=200)
    return path


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


class Watch:
    """A watcher with a judge that reads the line and keeps what it saw."""

    def __init__(self, folder):
        self.judged, self.events = [], []
        self.watcher = Watcher(folder, self.judge, self.tell, patience=PATIENCE)

    def judge(self, path, name):
        line = read_line(path)
        self.judged.append((name, digest(path)))
        return Judged(f"{len(line.traces)} traces")

    def tell(self, name, what):
        if isinstance(what, Event):
            self.events.append((what.kind, name, what.other))

    def until(self, done, seconds=60.0):
        limit = time.monotonic() + seconds
        while not done():
            assert time.monotonic() < limit, (self.judged, self.events, self.watcher.book)
            self.watcher.poll()
            time.sleep(0.02)

    def rest(self):
        """Poll until every file is settled, and for a while longer."""
        self.until(lambda: self.watcher.resting)
        end = time.monotonic() + 3 * PATIENCE.rest
        self.until(lambda: time.monotonic() > end)
        self.until(lambda: self.watcher.resting)


@pytest.fixture
def places(tmp_path):
    recorder, export = tmp_path / "recorder", tmp_path / "export"
    recorder.mkdir()
    export.mkdir()
    return recorder, export


def start_copy(source, target, way, pause):
    return subprocess.Popen([sys.executable, "-c", WRITER, str(source), str(target), way, str(pause)])


def test_files_that_arrive_in_pieces_are_judged_once_and_whole(places):
    """Grown, laid out first, or under another name first: each line has one verdict, on the bytes of the recorder."""
    recorder, export = places
    ways = ["grown", "laid out", "temporary", "grown"]
    files = [line_file(recorder / f"L{k}.sgy", k) for k in range(4)]
    watch = Watch(export)
    copies = [start_copy(f, export / f.name, way, 0.15) for f, way in zip(files, ways, strict=True)]
    watch.until(lambda: all(copy.poll() is not None for copy in copies))
    watch.until(lambda: len(watch.watcher.rows()) == 4)
    watch.rest()
    assert [copy.returncode for copy in copies] == [0, 0, 0, 0]
    assert sorted(watch.judged) == sorted((f.name, digest(f)) for f in files)
    assert watch.events == []
    assert [row.name for row in watch.watcher.rows()] == ["L0.sgy", "L1.sgy", "L2.sgy", "L3.sgy"]


def test_copy_that_stops_is_told_and_judged_when_it_is_finished(places):
    """Half a file is never judged: it is told of, stands in the summary as not whole, and is judged in the end."""
    recorder, export = places
    data = line_file(recorder / "L1.sgy", 1).read_bytes()
    target = export / "L1.sgy"
    target.write_bytes(data[:20_000])
    watch = Watch(export)
    watch.until(lambda: watch.events)
    assert watch.events == [("stuck", "L1.sgy", "")]
    (row,) = watch.watcher.rows()
    assert row.judged is None
    assert "cut short in trace 20" in row.note  # (20000 - 3600) / 840 = 19.5
    assert watch.judged == []
    with target.open("ab") as out:
        out.write(data[20_000:])
    watch.until(lambda: watch.judged)
    watch.rest()
    assert watch.judged == [("L1.sgy", digest(recorder / "L1.sgy"))]
    assert watch.watcher.rows()[0].judged is not None


@pytest.mark.slow
def test_renamed_replaced_and_deleted_files(places):
    """A new name keeps the verdict; other bytes under an old name are judged anew; a deleted line stays in the list."""
    recorder, export = places
    first, second = line_file(recorder / "a.sgy", 1), line_file(recorder / "b.sgy", 2)
    watch = Watch(export)
    shutil.copy(first, export / "LINE001.sgy")
    watch.rest()
    (export / "LINE001.sgy").rename(export / "Y01.sgy")
    watch.until(lambda: ("renamed", "Y01.sgy", "LINE001.sgy") in watch.events)
    watch.rest()
    assert [row.name for row in watch.watcher.rows()] == ["Y01.sgy"]
    shutil.copy(second, export / "LINE001.sgy")  # the recorder begins to count anew
    watch.rest()
    shutil.copy(line_file(recorder / "c.sgy", 3), export / "Y01.sgy")
    watch.rest()
    (export / "LINE001.sgy").unlink()
    watch.until(lambda: ("gone", "LINE001.sgy", "") in watch.events)
    watch.rest()
    assert [name for name, _ in watch.judged] == ["LINE001.sgy", "LINE001.sgy", "Y01.sgy"]
    assert watch.judged[-1][1] == digest(recorder / "c.sgy")
    notes = {row.name: row.note for row in watch.watcher.rows()}
    assert notes == {"LINE001.sgy": "the file is gone now", "Y01.sgy": "version 2 under this name"}


def test_folder_that_vanishes_and_comes_back(places):
    """A stick that is pulled ends nothing: known lines keep their verdict, what came meanwhile is judged."""
    recorder, export = places
    shutil.copy(line_file(recorder / "a.sgy", 1), export / "L1.sgy")
    watch = Watch(export)
    watch.rest()
    away = export.with_name("away")
    export.rename(away)
    watch.until(lambda: watch.events)
    for _ in range(20):
        watch.watcher.poll()
    assert watch.watcher.rows()[0].note == ""
    shutil.copy(line_file(recorder / "b.sgy", 2), away / "L2.sgy")
    away.rename(export)
    watch.until(lambda: len(watch.judged) == 2)
    watch.rest()
    assert watch.events == [("lost folder", "", ""), ("found folder", "", "")]
    assert [name for name, _ in watch.judged] == ["L1.sgy", "L2.sgy"]


def test_same_line_saved_twice_is_told(places):
    """Two names, the same bytes: one verdict, and the second name is called a copy."""
    recorder, export = places
    shutil.copy(line_file(recorder / "a.sgy", 1), export / "L1.sgy")
    watch = Watch(export)
    watch.rest()
    (export / "more").mkdir()
    shutil.copy(recorder / "a.sgy", export / "more" / "L2.sgy")
    watch.rest()
    assert watch.events == [("copy", "more/L2.sgy", "L1.sgy")]
    assert len(watch.judged) == 1
    assert watch.watcher.rows()[1].note == "same bytes as L1.sgy"


def test_file_that_changes_while_it_is_judged_is_judged_again(places):
    """A verdict on bytes that changed under the judge's hands is thrown away."""
    recorder, export = places
    shutil.copy(line_file(recorder / "a.sgy", 1), export / "L1.sgy")
    watch = Watch(export)
    judge = watch.watcher.judge

    def meddled(path, name):
        judged = judge(path, name)
        if len(watch.judged) == 1:
            shutil.copy(line_file(recorder / "b.sgy", 2), export / "L1.sgy")
        return judged

    watch.watcher.judge = meddled
    told = []
    watch.watcher.tell = lambda name, what: told.append(what)
    watch.rest()
    assert len(watch.judged) == 2
    assert watch.judged[1] == ("L1.sgy", digest(recorder / "b.sgy"))
    assert told == [Judged("40 traces")]


def test_file_that_cannot_be_read_as_a_line_must_be_exported_again(places):
    """A whole file with a sample that is no number is a finding, not a crash, and the watch goes on."""
    _, export = places
    path = export / "L1.sgy"
    line_file(path, 1)
    data = bytearray(path.read_bytes())
    data[3600 + 240 : 3600 + 244] = np.array([np.nan], ">f4").tobytes()
    path.write_bytes(data)
    watch = Watch(export)
    watch.rest()
    (row,) = watch.watcher.rows()
    assert row.judged.severity == "walk again"
    assert "trace 1" in row.judged.findings[0].words


def test_scrap_of_a_line_is_not_passed_over(places):
    """An empty file, and one too short to be known for SEG-Y, count as lines not judged; a note does not."""
    recorder, export = places
    shutil.copy(line_file(recorder / "L1.sgy", 1), export / "L1.sgy")
    (export / "L2.sgy").write_bytes(b"")
    (export / "L3.sgy").write_bytes((recorder / "L1.sgy").read_bytes()[:900])
    (export / "note.txt").write_text("gate code at the office", encoding="utf-8")
    watch = Watch(export)
    watch.rest()
    rows = {row.name: row.judged for row in watch.watcher.rows()}
    assert set(rows) == {"L1.sgy", "L2.sgy", "L3.sgy"}
    assert rows["L2.sgy"] is rows["L3.sgy"] is None
    assert {(kind, name) for kind, name, _ in watch.events} == {
        ("stuck", "L2.sgy"), ("aside", "L3.sgy"), ("aside", "note.txt"),
    }  # fmt: skip


def test_missing_folder_is_refused(tmp_path):
    """A mistyped folder is told at once."""
    with pytest.raises(InputError, match="no such folder"):
        Watch(tmp_path / "nowhere")
