"""Choose a reader by what a file holds, not by its name.

A new format is one `Reader` in `READERS`: a test of the first bytes, a function that reads a line, one that
describes it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from gridmap.errors import ReadError
from gridmap.model import Line
from gridmap.model.layout import Layouts
from gridmap.read.arrays import describe_arrays, looks_like_arrays, read_arrays
from gridmap.read.line_info import LineInfo
from gridmap.read.opening import open_file
from gridmap.read.seg2 import describe_seg2, read_seg2
from gridmap.read.seg2_blocks import looks_like_seg2
from gridmap.read.segy import read_segy
from gridmap.read.segy_headers import looks_like_segy
from gridmap.read.segy_info import describe_segy
from gridmap.read.text import describe_text, read_text
from gridmap.read.text_rows import looks_like_text

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
    layout : "text", "arrays" or None
        The part of `Layouts` that `read` and `describe` take as `layout` besides; None: the format needs
        none.
    """

    name: str
    accepts: Callable[[bytes, int], bool]
    read: Callable[..., Line]
    describe: Callable[..., LineInfo]
    layout: Literal["text", "arrays"] | None = None

    def options(self, sample_interval_ns: float | None, layouts: Layouts) -> dict[str, Any]:
        """Give the keyword arguments that `read` and `describe` share."""
        options: dict[str, Any] = {"sample_interval_ns": sample_interval_ns}
        if self.layout is not None:
            options["layout"] = getattr(layouts, self.layout)
        return options


READERS: tuple[Reader, ...] = (
    Reader("SEG-2", lambda head, size: looks_like_seg2(head), read_seg2, describe_seg2),
    Reader(
        "NumPy (.npy, .npz) and NetCDF 3",
        lambda head, size: looks_like_arrays(head),
        read_arrays,
        describe_arrays,
        "arrays",
    ),
    Reader("delimited text", lambda head, size: looks_like_text(head), read_text, describe_text, "text"),
    Reader("SEG-Y (revision 0, 1, 2)", lambda head, size: looks_like_segy(head), read_segy, describe_segy),
)
"""Tried in this order: SEG-Y has no mark of its own, so it comes last."""

NO_LAYOUTS = Layouts()
"""Nothing stated: what text and array files do not say is guessed."""


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


def read_line(
    path: Path | str,
    *,
    name: str | None = None,
    sample_interval_ns: float | None = None,
    layouts: Layouts = NO_LAYOUTS,
) -> Line:
    """Read one line file of any known format.

    Parameters
    ----------
    path : Path
        The file; its name does not matter.
    name : str or None
        The line's name; None takes the file's name without suffix.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules the file.
    layouts : Layouts
        How text and array files are laid out, as far as the user states it.

    Returns
    -------
    Line
        Traces (trace, sample) float32.

    Raises
    ------
    ReadError
        If the format is not known, or the file is not what it says.
    """
    reader = choose_reader(path)
    return reader.read(Path(path), name=name, **reader.options(sample_interval_ns, layouts))


_CONVERT = "which is not read: convert it to NetCDF 3 classic, such as with nccopy -k classic IN OUT"
_UNREAD = {
    b"\x89HDF\r\n\x1a\n": f"is HDF5, such as NetCDF 4, {_CONVERT}",
    b"CDF\x05": f"is NetCDF with 64-bit data, {_CONVERT}",
    b"<?xml": "is XML, which is no format of line files read",
}
"""Formats that are known by their first bytes and not read, in words."""


def _looks(head: bytes) -> str:
    """Say in words what an unknown file looks like."""
    for mark, words in _UNREAD.items():
        if head.startswith(mark):
            return words
    if all(byte >= 32 or byte in b"\t\r\n\f" for byte in head):
        return "looks like text, but no row in its beginning is made of numbers"
    return "its format is not known"
