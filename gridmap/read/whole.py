"""Read a small file whole, with a ceiling, and as text where it should be text."""

from __future__ import annotations

from pathlib import Path

from gridmap.errors import ReadError
from gridmap.read.opening import open_file

LARGEST_BYTES = 64_000_000
"""A track or a list of points above this is refused: at 5 fixes a second it is 40 hours of walking."""


def read_whole(path: Path, largest_bytes: int = LARGEST_BYTES) -> bytes:
    """Return all bytes of a file.

    Raises
    ------
    ReadError
        If it cannot be read, or is larger than `largest_bytes`.
    """
    with open_file(path) as stream:
        size = path.stat().st_size
        if size > largest_bytes:
            raise ReadError(
                f"{path.name}: {size / 1e6:.0f} MB, and {largest_bytes / 1e6:.0f} MB is the most that is read of such a"
                " file. Cut out the time of the survey."
            )
        raw = bytearray()
        while part := stream.read(1 << 20):  # an unbuffered stream may return less than was asked for
            raw += part
            if len(raw) > largest_bytes:
                raise ReadError(f"{path.name}: grows while it is read. Copy it first, then name the copy.")
        return bytes(raw)


def decode_plain(raw: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    """Decode delimited text: UTF-8, UTF-16 with its mark, else Western European with a note.

    Raises
    ------
    ReadError
        If the bytes are no text.
    """
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return raw.decode("utf-16"), ()
        except UnicodeDecodeError:
            raise ReadError(f"{name}: begins like UTF-16 text but is not. Save it again as UTF-8.") from None
    if b"\x00" in raw:
        raise ReadError(f"{name}: is no text (it holds zero bytes). Export it as delimited text.")
    try:
        return raw.decode("utf-8-sig"), ()
    except UnicodeDecodeError as error:
        return raw.decode("cp1252", errors="replace"), (
            f"not UTF-8 (byte {error.start + 1}); read as code page 1252",
        )
