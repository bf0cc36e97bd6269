"""Say whether a line file is there as a whole, or still being written, by what its own structure promises.

A copy may grow at its end, or be laid out at full length first and filled in later, and both can rest for a while.
What the structure denies is certain; what it only makes likely is told apart, and the caller waits longer.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Literal

import numpy as np

from gridmap.errors import ReadError
from gridmap.model.layout import Layouts
from gridmap.read.netcdf_bytes import NETCDF_MARKS, read_netcdf
from gridmap.read.npy_bytes import NPZ_MARK, read_npy, read_npz
from gridmap.read.opening import open_file
from gridmap.read.seg2_blocks import read_blocks
from gridmap.read.segy_extent import read_heads, read_layout
from gridmap.read.sniff import NO_LAYOUTS, choose_reader
from gridmap.read.text_rows import read_table

State = Literal["whole", "unsure", "part", "unknown"]
"""`unsure`: nothing is missing by the structure, but the file looks as one does that is not filled in yet.
`part`: something is missing. `unknown`: no reader knows the file, or it cannot be opened."""

_HOLE = bytes(4096)
"""A run of zero bytes as long as a block of a disk is what a part of a file looks like before it is filled."""
_TAIL = bytes(64)


@dataclass(frozen=True, slots=True)
class Look:
    """What one look at a file found.

    Attributes
    ----------
    state : State
        How much of the file is there.
    why : str
        In words, what is missing or odd; empty for a whole file.
    digest : str
        SHA-256 of its bytes, hexadecimal; empty where the file is not read through.
    """

    state: State
    why: str = ""
    digest: str = ""


def look_at_line(path: Path, layouts: Layouts = NO_LAYOUTS) -> Look:
    """Look at one file without judging its traces.

    Parameters
    ----------
    path : Path
        The file.
    layouts : Layouts
        How text files are laid out, as far as the user states it.

    Returns
    -------
    Look
        Its state; no error is raised for any bytes.
    """
    try:
        reader = choose_reader(path)
    except ReadError as problem:
        return Look("part" if _is_empty(path) else "unknown", _without_name(problem, path))
    try:
        with open_file(path) as stream:
            data = _all_bytes(stream)
        odd = _checked(path, reader.name, data, layouts)
    except ReadError as problem:
        return Look("part", _without_name(problem, path))
    digest = hashlib.sha256(data).hexdigest()
    return Look("unsure" if odd else "whole", odd, digest)


def _is_empty(path: Path) -> bool:
    try:
        return path.is_file() and path.stat().st_size == 0
    except OSError:
        return False


def _without_name(problem: ReadError, path: Path) -> str:
    return str(problem).removeprefix(f"{path.name}: ")


def _all_bytes(stream: BinaryIO) -> bytes:
    """Read to the end; an unbuffered stream may return less than was asked for."""
    parts = []
    while part := stream.read(1 << 24):
        parts.append(part)
    return b"".join(parts)


def _checked(path: Path, kind: str, data: bytes, layouts: Layouts) -> str:
    """Raise ReadError for a file that is not whole; else say what is odd about it."""
    if kind.startswith("SEG-Y"):
        return _segy(path) or _unfilled(data)
    if kind == "SEG-2":
        read_blocks(data, path.name)
        return _unfilled(data)
    if kind.startswith("NumPy"):
        return _arrays(data, path.name)
    read_table(path, layouts.text)
    return "" if data.endswith((b"\n", b"\r", b"\n\0", b"\r\0")) else "its last row has no end"


def _segy(path: Path) -> str:
    """Hold headers against the length, and look for trace headers that are not written yet."""
    with open_file(path) as stream:
        layout = read_layout(stream, path.name)
        heads = read_heads(stream, layout)
    written = (heads != 0).any(axis=0)
    if heads.shape[1] < layout.traces:
        raise ReadError(f"{path.name}: ends inside trace {heads.shape[1] + 1} of {layout.traces}.")
    if written.any() and not written.all():
        first = int(np.flatnonzero(~written)[0]) + 1
        raise ReadError(
            f"{path.name}: trace {first} of {layout.traces} has an empty header where others have theirs: it is not"
            " filled in yet, or damaged. Copy the file again from the recorder."
        )
    return "" if written.any() else "no trace header is filled in"


def _arrays(data: bytes, source: str) -> str:
    """Read every array; a packed archive has check sums, the others may still hold unfilled stretches."""
    if data.startswith(NPZ_MARK):
        read_npz(data, source)
        return ""
    if data.startswith(NETCDF_MARKS):
        read_netcdf(data, source)
    else:
        read_npy(data, source)
    return _unfilled(data)


def _unfilled(data: bytes) -> str:
    """Say where a binary file has nothing but zeros for as long as one that waits to be filled in."""
    if data.endswith(_TAIL):
        return "it ends in zeros, as a file does that is not filled in yet"
    hole = data.find(_HOLE)
    return "" if hole < 0 else f"it holds nothing but zeros from byte {hole + 1}, as a file not filled in yet"
