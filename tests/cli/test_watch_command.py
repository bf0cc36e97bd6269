"""`gridmap watch` as a program of its own, with files arriving while it runs; `gridmap check` into a folder."""

import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time

import numpy as np
import pytest
from small_survey import traces_of, write_small_survey

from gridmap.read.segy_write import write_segy


def program(*words):
    return [sys.executable, "-m", "gridmap", *map(str, words)]


class Watching:
    """The program with its rows as they come."""

    def __init__(self, *words):
        self.process = subprocess.Popen(
            program("watch", *words), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, bufsize=1
        )
        self.rows, self.said = queue.Queue(), []
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        for row in self.process.stdout:
            self.rows.put(row.rstrip("\n"))
        self.rows.put(None)

    def until(self, words, seconds=90.0):
        """Wait for a row that holds the words."""
        limit = time.monotonic() + seconds
        while time.monotonic() < limit:
            row = self.rows.get(timeout=max(0.1, limit - time.monotonic()))
            assert row is not None, (self.said, self.process.stderr.read())
            self.said.append(row)
            if words in row:
                return row
        raise AssertionError(self.said)

    def stop(self):
        """Press Ctrl-C; give the exit code and the rows of the summary."""
        self.process.send_signal(signal.SIGINT)
        before = len(self.said)
        while (row := self.rows.get(timeout=60)) is not None:
            self.said.append(row)
        return self.process.wait(timeout=60), "\n".join(self.said[before:])


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="Ctrl-C is sent by a signal")
def test_lines_are_judged_as_they_arrive_and_ctrl_c_ends_with_a_summary(tmp_path):
    """A good line, one of which nothing was stored, and half a file: each is told, and all stand in the end."""
    export = tmp_path / "export"
    export.mkdir()
    watch = Watching(export, "--every", "0.2")
    try:
        watch.until("Watching")
        write_segy(export / "Y01.sgy", traces_of(0), sample_interval_ps=200)
        assert " good " in watch.until("Y01.sgy")
        write_segy(export / "Y02.sgy", 0.0 * traces_of(1), sample_interval_ps=200)
        assert "WALK AGAIN" in watch.until("Y02.sgy")
        half = (export / "Y01.sgy").read_bytes()[:9000]
        (export / "Y03.sgy").write_bytes(half)
        (export / "Y01.sgy").rename(export / "Y09.sgy")
        watch.until("Y09.sgy is Y01.sgy under a new name")
        code, summary = watch.stop()
    finally:
        watch.process.kill()
    assert code == 1
    assert "2 lines judged: 1 good, 0 to look at, 1 to walk again; 1 file not judged." in summary
    assert "Y03.sgy: cut short in trace" in summary
    assert "Traceback" not in watch.process.stderr.read()


@pytest.mark.slow
def test_once_judges_what_is_there_by_the_site_file(tmp_path):
    """Ten good lines of a survey end with exit code 0; their lengths are those of the site file."""
    site = write_small_survey(tmp_path / "survey")
    done = subprocess.run(
        program("watch", tmp_path / "survey" / "lines", "--site", site, "--once"),
        capture_output=True,
        text=True,
    )
    assert "10 lines judged: 10 good, 0 to look at, 0 to walk again." in done.stdout, (
        done.stdout + done.stderr
    )
    assert done.stdout.count("61 traces, 3.0 m, 30 ns") == 10
    assert done.returncode == 0


def test_wrong_folder_and_wrong_site_file_are_told_at_once(tmp_path):
    """Exit code 2, one line on standard error."""
    for words in ((tmp_path / "nowhere",), (tmp_path, "--site", tmp_path / "none.toml")):
        done = subprocess.run(program("watch", *words), capture_output=True, text=True)
        assert done.returncode == 2
        assert len(done.stderr.strip().splitlines()) == 1
        assert "there is no such" in done.stderr or "no such folder" in done.stderr


@pytest.mark.slow
def test_check_writes_its_folder_and_again_only_when_told(tmp_path):
    """Page, papers and figures of a survey with a dead line; a second check replaces the first when asked to."""
    site = write_small_survey(tmp_path / "survey")
    dead = np.zeros_like(traces_of(4))
    write_segy(tmp_path / "survey" / "lines" / "L05.sgy", dead, sample_interval_ps=200)
    out = tmp_path / "check"
    done = subprocess.run(program("check", site, "-o", out), capture_output=True, text=True)
    assert done.returncode == 1, done.stderr
    assert sorted(p.name for p in out.iterdir()) == [
        "check.json",
        "check.pdf",
        "index.html",
        "walk-again.pdf",
    ]
    record = json.loads((out / "check.json").read_text(encoding="utf-8"))
    assert any(f["line"] == "L05" and f["severity"] == "walk again" for f in record["findings"])
    page = (out / "index.html").read_text(encoding="utf-8")
    assert page.count('"radargram":{') == 10
    again = subprocess.run(program("check", site, "-o", out), capture_output=True, text=True)
    assert again.returncode == 2
    assert "--replace" in again.stderr
