from __future__ import annotations

import pytest

from gridmap.read.segy_text import decode_text, text_lines

CARDS = "".join(
    line.ljust(80)
    for line in ("C 1 CLIENT none", "C 2", "C 3 MEADOW, LINE 7", *[f"C{n:2d}" for n in range(4, 41)])
)


@pytest.mark.parametrize("encoding", ["ascii", "cp037"])
def test_both_encodings_are_recognised(encoding: str) -> None:
    """EBCDIC and ASCII cards give the same lines, without card numbers and empty cards."""
    assert text_lines(CARDS.encode(encoding)) == ("CLIENT none", "MEADOW, LINE 7")


def test_control_characters_do_not_reach_a_terminal() -> None:
    """Escape sequences, NUL and line ends in a header become blanks."""
    raw = b"C 1 a\x1b[31mred\x00b\nc\x9b2J" + "\u202e".encode("latin-1", "replace")
    (line,) = text_lines(raw.ljust(3200))
    assert line.isprintable()
    assert line.startswith("a [31mred b c 2J")


def test_any_bytes_decode() -> None:
    """No byte can make the decoding fail."""
    assert len(decode_text(bytes(range(256)))) == 256
    assert all(line.isprintable() for line in text_lines(bytes(range(256)) * 12))
