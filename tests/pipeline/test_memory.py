"""The memory that a map may take: read, found out, and refused in time where it is too little."""

import errno
import os
import re
from pathlib import Path

import pytest
from small_survey import files_of, write_small_survey

import gridmap
from gridmap.errors import InputError, OutputError
from gridmap.pipeline import work
from gridmap.pipeline.memory import BASE_BYTES, memory_needed, memory_there, parse_size, refuse_too_little
from gridmap.pipeline.work import Work


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("2GiB", 2 * 2**30),
        ("1500 MB", 1_500_000_000),
        ("4G", 4_000_000_000),
        ("0.5gib", 2**29),
        ("700000", 700_000),
    ],
)
def test_sizes_are_read(text, size):
    """IEC 80000-13: Mi is 2^20, M is 10^6."""
    assert parse_size(text) == size


@pytest.mark.parametrize("text", ["", "much", "-1GiB", "0", "2 GBit", "i"])
def test_what_is_no_size_is_refused(text):
    """The message says how a size looks."""
    with pytest.raises(InputError, match="such as 2GiB"):
        parse_size(text)


def test_memory_is_that_of_the_machine_or_less():
    """/proc/meminfo tells the same machine."""
    total = int(Path("/proc/meminfo").read_text(encoding="ascii").split()[1]) * 1024
    assert 2**28 < memory_there() <= total


def test_the_smallest_limit_that_is_named_works():
    """A job refused for its memory is let pass with the limit that the message names, and not with less."""
    with pytest.raises(InputError, match="--memory") as caught:
        refuse_too_little(2**30, 300_000_000, 200_000_000, False)
    named = re.search(r"--memory (\S+) or more", str(caught.value))[1]
    refuse_too_little(parse_size(named), 300_000_000, 200_000_000, False)
    with pytest.raises(InputError):
        refuse_too_little(parse_size(named) - 200 * 2**20, 300_000_000, 200_000_000, False)


@pytest.mark.parametrize(
    ("volume", "traces", "by_tiles", "measured"),
    [(165e6, 118e6, False, 1.24e9), (945e6, 695e6, True, 2419 * 2**20)],
)
def test_what_is_reckoned_holds_what_was_measured(volume, traces, by_tiles, measured):
    """The 20 m square and a quarter hectare of an array: no less than they took, and no more than a third above."""
    assert measured < memory_needed(int(volume), int(traces), by_tiles) < 1.34 * measured


def test_too_small_a_limit_loses_nothing(mapped, tmp_path):
    """Refused before the long part; the same command with enough goes on to the same map."""
    site = write_small_survey(tmp_path / "s")
    with pytest.raises(InputError, match="the limit is 477 MiB"):
        gridmap.map(site, tmp_path / "out", memory="500MB")
    assert not (tmp_path / "out").exists()
    assert (tmp_path / "out.work").is_dir()
    result = gridmap.map(site, tmp_path / "out", memory=str(2 * BASE_BYTES))
    assert files_of(result.out) == files_of(mapped[0].out)


def test_gathered_traces_in_a_file_give_the_same_map(mapped, tmp_path, monkeypatch):
    """Where the sums over traces find their samples is nothing to the result; nothing of the file is left."""
    asked = []
    room = Work.room

    def noted(self, shape):
        made = room(self, shape)
        asked.append(made.base is not None)
        return made

    monkeypatch.setattr(work, "ROOM_BYTES", 0)
    monkeypatch.setattr(Work, "room", noted)
    result = gridmap.map(
        write_small_survey(tmp_path / "s"), tmp_path / "out", work=tmp_path / "w", keep_work=True
    )
    assert asked == [True]
    assert files_of(result.out) == files_of(mapped[0].out)
    assert not (tmp_path / "w" / ".room").exists()


def test_a_full_disk_is_said_before_gathered_traces_are_written(tmp_path, monkeypatch):
    """The space is taken first: the system would end a job that writes to a mapped file on a full disk."""

    def full(*_args):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (tmp_path / "w").mkdir()
    monkeypatch.setattr(work, "ROOM_BYTES", 0)
    monkeypatch.setattr(os, "posix_fallocate", full)
    with pytest.raises(OutputError, match="No space left"):
        Work(tmp_path / "w").room((4, 5))
    assert not list((tmp_path / "w").iterdir())
