"""Bad input through the shipped command: one line that names file and fix, exit code 2, nothing half-written."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from small_survey import traces_of, write_small_survey

from gridmap.read.segy_write import write_segy

ROOT = Path(__file__).parents[2]


def run(*words):
    """Run `python -m gridmap` in a process of its own; returns (exit code, last line of standard error)."""
    done = subprocess.run(
        [sys.executable, "-m", "gridmap", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=600,
    )
    assert "Traceback" not in done.stderr
    last = done.stderr.strip().splitlines()[-1] if done.stderr.strip() else ""
    return done.returncode, last, done.stdout


def refused(site, out, *words):
    """Run and assert exit code 2 with a message holding all of `words`, and that nothing was written."""
    code, message, _ = run("map", site, "-o", out)
    assert code == 2, message
    for word in words:
        assert word in message, message
    assert not out.exists()
    assert not list(out.parent.glob(f".{out.name}*"))


@pytest.fixture
def site(tmp_path):
    return write_small_survey(tmp_path / "s")


def line(site, name="L03"):
    return site.parent / "lines" / f"{name}.sgy"


def edit(site, old, new):
    text = site.read_text()
    assert old in text
    site.write_text(text.replace(old, new, 1))


def test_missing_site_file(tmp_path):
    """Says which file."""
    refused(tmp_path / "none.toml", tmp_path / "out", "none.toml")


def test_missing_line_file(site, tmp_path):
    """A file named in the site file that is not there."""
    edit(
        site,
        "[[lines]]",
        '[[line]]\nfile = "lines/gone.sgy"\nstart_m = [2.5, 0]\nend_m = [2.5, 3]\n\n[[lines]]',
    )
    refused(site, tmp_path / "out", "gone.sgy")


def test_empty_line_file(site, tmp_path):
    """Zero bytes."""
    line(site).write_bytes(b"")
    refused(site, tmp_path / "out", "L03.sgy", "empty")


def test_truncated_line_file(site, tmp_path):
    """Half a trace missing at the end."""
    whole = line(site).read_bytes()
    line(site).write_bytes(whole[:-300])
    refused(site, tmp_path / "out", "L03.sgy")


def test_traces_of_unequal_length(site, tmp_path):
    """One trace header says another count of samples."""
    raw = bytearray(line(site).read_bytes())
    at = 3600 + 5 * (240 + 150 * 4) + 114
    raw[at : at + 2] = (149).to_bytes(2, "big")
    line(site).write_bytes(bytes(raw))
    refused(site, tmp_path / "out", "L03.sgy", "trace 6")


def test_nan_samples(site, tmp_path):
    """NaN in one trace is named, not mapped."""
    raw = bytearray(line(site).read_bytes())
    at = 3600 + 10 * (240 + 150 * 4) + 240 + 20 * 4
    raw[at : at + 4] = np.array(np.nan, ">f4").tobytes()
    line(site).write_bytes(bytes(raw))
    refused(site, tmp_path / "out", "L03", "trace 11")


def test_file_that_is_no_line(site, tmp_path):
    """A text file with the right suffix."""
    line(site).write_text("these are not the traces\n" * 400)
    refused(site, tmp_path / "out", "L03.sgy")


def test_mixed_byte_order_is_refused(site, tmp_path):
    """Header in one order, traces in the other: plausible in neither."""
    raw = bytearray(line(site).read_bytes())
    raw[3216:3226] = b"".join(raw[i : i + 2][::-1] for i in range(3216, 3226, 2))
    line(site).write_bytes(bytes(raw))
    refused(site, tmp_path / "out", "L03.sgy")


def test_two_lines_with_one_name(site, tmp_path):
    """The same name twice."""
    shutil.copy(line(site), site.parent / "extra.sgy")
    edit(
        site, "[[lines]]",
        '[[line]]\nname = "L03"\nfile = "extra.sgy"\nstart_m = [2.5, 0]\nend_m = [2.5, 3]\n\n[[lines]]',
    )  # fmt: skip
    refused(site, tmp_path / "out", "L03")


def test_line_of_one_trace(site, tmp_path):
    """One trace has no direction."""
    write_segy(line(site), traces_of(2)[:1], sample_interval_ps=200, sample_format=5)
    refused(site, tmp_path / "out", "L03")


def test_line_outside_the_grid_is_warned_about(site, tmp_path):
    """Done, but something needs attention: exit code 1, the line named."""
    edit(site, "size_m = [2.25, 3.0]", "size_m = [1.0, 3.0]")
    code, _, said = run("map", site, "-o", tmp_path / "out")
    assert code == 1
    assert "L10" in said
    assert (tmp_path / "out" / "run.json").exists()


def test_control_points_that_coincide(site, tmp_path):
    """Two pegs in one place."""
    edit(site, "local_m = [2.25, 0.0]", "local_m = [0.0, 0.0]")
    refused(site, tmp_path / "out", "A", "B")


def test_control_points_that_mirror_the_grid(site, tmp_path):
    """y on the wrong side of x."""
    edit(site, "map_m = [500002.25, 5400003.0]", "map_m = [500002.25, 5399997.0]")
    refused(site, tmp_path / "out", "mirror")


def test_unknown_crs(site, tmp_path):
    """No such code."""
    edit(site, "EPSG:32633", "EPSG:99999999")
    refused(site, tmp_path / "out", "99999999")


def test_geographic_crs(site, tmp_path):
    """Degrees are no map."""
    edit(site, "EPSG:32633", "EPSG:4326")
    refused(site, tmp_path / "out", "EPSG:4326")


def test_misspelt_key_gets_a_suggestion(site, tmp_path):
    """frequency_mhx: did you mean frequency_mhz."""
    edit(site, "frequency_mhz", "frequency_mhx")
    refused(site, tmp_path / "out", "frequency_mhx", "frequency_mhz")


def test_output_folder_not_empty(site, tmp_path):
    """What stands there stays."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "mine.txt").write_text("keep")
    code, message, _ = run("map", site, "-o", out)
    assert code == 2
    assert "not empty" in message
    assert [p.name for p in out.iterdir()] == ["mine.txt"]
    code, message, _ = run("map", site, "-o", out, "--replace")
    assert code == 2
    assert "run.json" in message
    assert (out / "mine.txt").read_text() == "keep"


def test_output_inside_a_file(site, tmp_path):
    """A file where a folder should be."""
    (tmp_path / "file").write_text("")
    code, message, _ = run("map", site, "-o", tmp_path / "file" / "out")
    assert code == 2
    assert "file" in message


@pytest.mark.skipif(os.geteuid() == 0 if hasattr(os, "geteuid") else True, reason="root may write anywhere")
def test_output_folder_not_writable(site, tmp_path):
    """A folder without the right to write."""
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    refused(site, locked / "out", "cannot be written")


def test_disk_that_says_no_leaves_nothing(site, tmp_path, monkeypatch):
    """An error of the file system while writing becomes one line, the temporary folder goes, and the job can go on."""
    import gridmap
    from gridmap.deliver import folder
    from gridmap.errors import OutputError

    def full(*_args, **_kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(folder, "write_index", full)
    with pytest.raises(OutputError, match="No space left"):
        gridmap.map(site, tmp_path / "out")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out.work", "s"]
    monkeypatch.undo()
    assert gridmap.map(site, tmp_path / "out").out == tmp_path / "out"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out", "s"]


def test_replace_takes_an_earlier_map(site, tmp_path):
    """--replace over a map of ours works, and without it does not."""
    assert run("map", site, "-o", tmp_path / "out")[0] == 0
    code, message, _ = run("map", site, "-o", tmp_path / "out")
    assert code == 2
    assert "--replace" in message
    assert run("map", site, "-o", tmp_path / "out", "--replace")[0] == 0
