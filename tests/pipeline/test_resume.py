"""A job that was stopped goes on where it was, and ends with the files of a job that was never stopped."""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from small_survey import files_of, write_small_survey

import gridmap
from gridmap.errors import OutputError, ReadError
from gridmap.model import array_file
from gridmap.pipeline import kept_stages
from gridmap.pipeline.work import Work
from gridmap.site.load import load_site


@pytest.fixture
def site(tmp_path):
    return write_small_survey(tmp_path / "s")


def stopped_in(monkeypatch, site, out, stage, error=KeyboardInterrupt, **how):
    """Run a job that is stopped when it comes to a stage."""

    def stop(*_args, **_kwargs):
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(kept_stages, stage, stop)
        with pytest.raises(error if isinstance(error, type) else type(error)) as caught:
            gridmap.map(site, out, **how)
    return caught.value


def test_a_stopped_job_goes_on(mapped, site, tmp_path, monkeypatch):
    """Stopped before the features are looked for, only they are left to do; the files are those of a whole run."""
    said = stopped_in(monkeypatch, site, tmp_path / "out", "find_features")
    assert "the same command goes on" in str(said)
    assert str(tmp_path / "out.work") in str(said)
    assert not (tmp_path / "out").exists()
    for done in ("finish_lines", "survey_velocity", "fill"):
        monkeypatch.setattr(kept_stages, done, None)
    result = gridmap.map(site, tmp_path / "out")
    assert files_of(result.out) == files_of(mapped[0].out)
    assert result.notes == mapped[0].notes
    assert result.warnings == mapped[0].warnings
    assert not (tmp_path / "out.work").exists()


def test_a_changed_setting_redoes_what_depends_on_it(site, tmp_path, monkeypatch):
    """Another velocity: the lines are not conditioned again, the volume is made anew."""
    how = {"work": tmp_path / "w", "keep_work": True}
    gridmap.map(site, tmp_path / "one", **how)
    text = site.read_text()
    assert "velocity_m_per_ns = 0.1\n" in text
    site.write_text(text.replace("velocity_m_per_ns = 0.1\n", "velocity_m_per_ns = 0.11\n"))
    with monkeypatch.context() as patch:
        patch.setattr(kept_stages, "finish_lines", None)
        two = gridmap.map(site, tmp_path / "two", **how)
    site.write_text(text)
    assert two.velocity.mean_m_per_ns() == pytest.approx(0.11)
    fresh = files_of(gridmap.map(site, tmp_path / "three").out)
    assert fresh == files_of(tmp_path / "one") != files_of(two.out)


def test_no_stage_writes_into_the_traces_of_another(mapped, site, tmp_path, monkeypatch):
    """With files mapped for reading alone nothing fails: what is written would be lost without a word."""
    monkeypatch.setattr(array_file.mmap, "ACCESS_COPY", array_file.mmap.ACCESS_READ)
    assert files_of(gridmap.map(site, tmp_path / "out").out) == files_of(mapped[0].out)


def test_an_input_that_changes_during_the_job_is_noticed(site, tmp_path, monkeypatch):
    """A line file grown or emptied while the job runs stops it before anything is written, with its name."""
    file = load_site(site).lines[3].file
    raw = file.read_bytes()

    def meddle(*given):
        file.write_bytes(raw[:-4] + b"\0\0\0\1")
        return kept_stages_features(*given)

    kept_stages_features = kept_stages.find_features
    monkeypatch.setattr(kept_stages, "find_features", meddle)
    with pytest.raises(ReadError, match=f"{file.name}: changed or removed while the map was made"):
        gridmap.map(site, tmp_path / "out")
    assert not (tmp_path / "out").exists()
    file.write_bytes(raw)
    monkeypatch.undo()
    assert gridmap.map(site, tmp_path / "out").out.is_dir()


def test_a_changed_line_is_not_taken_from_the_work_folder(mapped, site, tmp_path, monkeypatch):
    """Between stop and resume a line file is replaced by another: the map is that of the new file."""
    plans = load_site(site).lines
    stopped_in(monkeypatch, site, tmp_path / "out", "find_features")
    plans[3].file.write_bytes(plans[5].file.read_bytes())
    assert files_of(gridmap.map(site, tmp_path / "out").out) != files_of(mapped[0].out)


def test_a_work_folder_of_another_version_is_begun_anew(site, tmp_path, monkeypatch):
    """What another version of gridmap left is not mixed in, nor is it an error."""
    stopped_in(monkeypatch, site, tmp_path / "out", "find_features")
    mark = tmp_path / "out.work" / "gridmap-work.json"
    mark.write_text(mark.read_text().replace('"version": "', '"version": "0.0.old-'))
    left = tmp_path / "out.work" / "velocity-0.npz"
    left.write_bytes(b"of another version")
    stopped_in(monkeypatch, site, tmp_path / "out", "find_features")
    assert not left.exists()


def test_a_product_that_was_cut_short_is_made_again(mapped, site, tmp_path, monkeypatch):
    """A power cut may leave files with holes: a product that cannot be read counts as not there."""
    stopped_in(monkeypatch, site, tmp_path / "out", "find_features")
    for pattern in ("velocity-*.npz", "volume-*.npy", "conditioned-*-0.npy"):
        (file,) = (tmp_path / "out.work").glob(pattern)
        os.truncate(file, file.stat().st_size // 2)
    assert files_of(gridmap.map(site, tmp_path / "out").out) == files_of(mapped[0].out)


def test_a_folder_that_is_no_work_folder_is_left_alone(site, tmp_path):
    """A folder with a stranger's files is refused as work folder, and stays as it is."""
    (tmp_path / "w").mkdir()
    (tmp_path / "w" / "thesis.txt").write_text("mine")
    with pytest.raises(OutputError, match="not gridmap's work"):
        gridmap.map(site, tmp_path / "out", work=tmp_path / "w")
    assert [p.name for p in (tmp_path / "w").iterdir()] == ["thesis.txt"]


def test_two_runs_do_not_share_a_work_folder(site, tmp_path):
    """The second run says that another one works there."""
    with Work(tmp_path / "w").held(), pytest.raises(OutputError, match="another run works in it"):
        gridmap.map(site, tmp_path / "out", work=tmp_path / "w")


def test_a_full_disk_in_the_work_folder(mapped, site, tmp_path, monkeypatch):
    """The eighth file does not fit: one line that says so; with space again the job goes on to the same map."""
    from gridmap.pipeline import work

    written, real = [], work._write

    def write(path, values):
        written.append(path)
        if len(written) == 8:
            path.write_bytes(b"half of")
            raise OSError(28, "No space left on device")
        real(path, values)

    monkeypatch.setattr(work, "_write", write)
    with pytest.raises(OutputError, match="No space left on device"):
        gridmap.map(site, tmp_path / "out")
    assert not (tmp_path / "out").exists()
    monkeypatch.undo()
    assert files_of(gridmap.map(site, tmp_path / "out").out) == files_of(mapped[0].out)


@pytest.mark.slow
def test_a_file_system_that_takes_no_large_file(mapped, site, tmp_path):
    """The kernel itself refuses the volume (RLIMIT_FSIZE): exit code 2 and one line; without the limit it goes on."""
    import resource

    command = [sys.executable, "-m", "gridmap", "map", str(site), "-o", str(tmp_path / "out")]
    limited = subprocess.run(
        command,
        check=False,
        capture_output=True,
        text=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000)),
    )
    assert limited.returncode == 2
    assert "out.work: File too large. Free space there or choose another work folder" in limited.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out.work", "s"]
    assert subprocess.run(command, check=False, capture_output=True).returncode in (0, 1)
    assert files_of(tmp_path / "out") == files_of(mapped[0].out)


def test_nothing_is_left_behind_where_the_input_is_wrong_at_once(site, tmp_path):
    """A first line that cannot be read leaves no work folder."""
    load_site(site).lines[0].file.write_bytes(b"no line")
    with pytest.raises(ReadError):
        gridmap.map(site, tmp_path / "out")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["s"]


@pytest.mark.slow
def test_killed_at_ten_random_moments(mapped, site, tmp_path):
    """SIGKILL ten times at seeded moments, the same command each time: the files are those of a run never killed."""
    out = tmp_path / "out"
    command = [sys.executable, "-m", "gridmap", "map", str(site), "-o", str(out)]
    started = time.monotonic()
    subprocess.run([*command[:-1], str(tmp_path / "whole")], check=False, capture_output=True)
    whole_s = time.monotonic() - started
    whole = files_of(tmp_path / "whole")
    assert whole == files_of(mapped[0].out)
    moments, finished = random.Random(5), 0
    for _ in range(10):
        run = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(moments.uniform(0.1, 0.9) * whole_s)
        run.send_signal(signal.SIGKILL)
        run.wait()
        if out.exists():  # It had gone on so often that it came to its end: the next begins anew.
            assert files_of(out) == whole
            shutil.rmtree(out)
            finished += 1
    assert finished < 10
    subprocess.run(command, check=False, capture_output=True)
    assert files_of(out) == whole
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out", "s", "whole"]


def test_share_told_is_that_of_what_was_left(site, tmp_path, monkeypatch):
    """A job that goes on counts from 0 to 1 over what is left, and never back."""
    stopped_in(monkeypatch, site, tmp_path / "out", "find_features")
    told = []
    gridmap.map(site, tmp_path / "out", progress=lambda stage, share: told.append(share))
    assert told == sorted(told)
    assert told[0] == 0.0
    assert told[-1] == 1.0


def test_records_come_back_as_they_were(mapped, tmp_path):
    """The codec of products: the velocity and its evidence, to the bit and to the type."""
    from gridmap.pipeline.kept import digest, from_bytes, to_bytes

    velocity = mapped[0].velocity
    again = from_bytes(to_bytes((velocity, {"a": (1, 2.5, None)}, float("nan")), Path("/")), Path("/"))
    assert digest(again[0]) == digest(velocity)
    assert again[1] == {"a": (1, 2.5, None)}
    assert digest(again) != digest((replace(velocity, source="x"), {"a": (1, 2.5, None)}, float("nan")))
