from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gridmap.errors import ReadError
from gridmap.read import Reader, read_line, read_segy
from gridmap.read.sniff import READERS, choose_reader


def test_content_decides_not_the_name(make) -> None:
    """A SEG-Y file is one whatever it is called, in either byte order."""
    for name, order in (("line.dat", ">"), ("line", "<")):
        path = make(name=name, order=order)
        np.testing.assert_array_equal(read_line(path, name="a").traces, read_segy(path).traces)
        assert read_line(path, name="a").name == "a"
        assert read_line(path, sample_interval_ns=0.5).sample_interval_ns == 0.5


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"time,amplitude\n" * 500, "looks like text"),
        (b"\x89PNG\r\n" + bytes(range(256)) * 20, "its format is not known"),
        (b"GIF", "looks like text"),
    ],
)
def test_unknown_content_lists_what_is_known(tmp_path: Path, content: bytes, words: str) -> None:
    """A file of another kind is refused with the formats that are read, on one line."""
    path = tmp_path / "line.sgy"
    path.write_bytes(content)
    with pytest.raises(ReadError, match=words) as caught:
        read_line(path)
    assert "SEG-Y (revision 0, 1, 2)" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_cards_with_an_impossible_format_code_get_the_byte_order_hint(make) -> None:
    """A text header of cards is SEG-Y enough for the reader to say that neither byte order fits."""
    text = "".join(f"C{n:2d} CLIENT".ljust(80) for n in range(1, 41)).encode("cp037")
    with pytest.raises(ReadError, match="neither byte order"):
        read_line(make(text=text, file={3225: ("h", 0)}))


def test_missing_and_empty(tmp_path: Path) -> None:
    """Missing and empty files are told before any reader is asked."""
    (tmp_path / "empty").touch()
    with pytest.raises(ReadError, match="empty"):
        read_line(tmp_path / "empty")
    with pytest.raises(ReadError, match="no such file"):
        read_line(tmp_path / "none")
    with pytest.raises(ReadError, match="is a folder"):
        read_line(tmp_path)


def test_a_new_format_is_one_entry(tmp_path: Path) -> None:
    """A reader added to the list is chosen by the first bytes of its files."""
    new = Reader(
        "new", lambda head, size: head.startswith(b"NEW") and size == 5, read_segy, READERS[0].describe
    )
    path = tmp_path / "a"
    path.write_bytes(b"NEW12")
    assert choose_reader(path, (*READERS, new)) is new
