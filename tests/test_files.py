"""Whole files or none."""

import hashlib

import pytest

from gridmap.files import sha256, whole_file, whole_folder, write_text


def test_a_failure_leaves_the_old_file_and_no_other(tmp_path):
    """What stood there stays as it was."""
    path = tmp_path / "a.txt"
    write_text(path, "old")
    with pytest.raises(RuntimeError), whole_file(path) as temporary:
        temporary.write_text("half")
        raise RuntimeError
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_a_folder_appears_whole_or_not_at_all(tmp_path):
    """The same for folders."""
    with pytest.raises(RuntimeError), whole_folder(tmp_path / "out") as folder:
        (folder / "half").write_text("x")
        raise RuntimeError
    assert list(tmp_path.iterdir()) == []
    with whole_folder(tmp_path / "out") as folder:
        (folder / "all").write_text("x")
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["all"]


def test_hash_is_sha_256(tmp_path):
    """As hashlib has it, for a file longer than one block."""
    path = tmp_path / "b"
    path.write_bytes(b"ab" * 700_000)
    assert sha256(path) == hashlib.sha256(path.read_bytes()).hexdigest()
