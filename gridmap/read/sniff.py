"""Choose a reader by what a file holds, not by its name.

A new format is one `Reader` in `READERS`: a test of the first bytes, a function that reads a line, one that
describes it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from gridmap.errors import ReadError
from gridmap.model import Line
from gridmap.read.line_info import LineInfo
from gridmap.read.opening import open_file
from gridmap.read.segy import read_segy
from gridmap.read.segy_headers import looks_like_segy
from gridmap.read.segy_info import describe_segy

HEAD_BYTES = 4096
"""Bytes from the start of a file that a reader may look at to say whether the file is its own."""


@dataclass(frozen=True, slots=True)
class Reader:
    """One file format.

    Attributes
    ----------
    name : str
        As a message names the format.
    accepts : function of (head: bytes, size: int) to bool
        Says from the first `HEAD_BYTES` bytes and the length of a file whether it is of this format.
    read : function of (path, *, name, sample_interval_ns) to Line
        Reads one line.
    describe : function of (path, *, sample_interval_ns) to LineInfo
        Describes one line, cheaply.
    """

    name: str
    accepts: Callable[[bytes, int], bool]
    read: Callable[..., Line]
    describe: Callable[..., LineInfo]


READERS: tuple[Reader, ...] = (
    Reader("SEG-Y (revision 0, 1, 2)", lambda head, size: looks_like_segy(head), read_segy, describe_segy),
)
"""Tried in this order."""


def choose_reader(path: Path | str, readers: tuple[Reader, ...] = READERS) -> Reader:
    """Find the reader that accepts a file.

    Raises
    ------
    ReadError
        If the file cannot be opened, is empty, or no reader knows it; the message lists the formats that are
        read.
    """
    path = Path(path)
    with open_file(path) as stream:
        head = stream.read(HEAD_BYTES)
        size = path.stat().st_size
    if not head:
        raise ReadError(f"{path.name}: the file is empty (0 bytes). Copy it again from the recorder.")
    for reader in readers:
        if reader.accepts(head, size):
            return reader
    known = ", ".join(reader.name for reader in readers)
    raise ReadError(
        f"{path.name}: {_looks(head)} ({size} bytes). Formats read: {known}. Export the line to one of them."
    )


def read_line(path: Path | str, *, name: str | None = None, sample_interval_ns: float | None = None) -> Line:
    """Read one line file of any known format.

    Parameters
    ----------
    path : Path
        The file; its name does not matter.
    name : str or None
        The line's name; None takes the file's name without suffix.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules the file.

    Returns
    -------
    Line
        Traces (trace, sample) float32.

    Raises
    ------
    ReadError
        If the format is not known, or the file is not what it says.
    """
    return choose_reader(path).read(Path(path), name=name, sample_interval_ns=sample_interval_ns)


def _looks(head: bytes) -> str:
    """Say in words what an unknown file looks like."""
    if all(byte >= 32 or byte in b"\t\r\n\f" for byte in head):
        return "looks like text, which is no format of line files read"
    return "its format is not known"
