"""NumPy's own files, .npy and .npz, to named arrays; nothing is unpickled and no header is believed unchecked.

Source of the format: NumPy Enhancement Proposal 1, "A simple file format for NumPy arrays"; .npz is a ZIP of
them.
"""

from __future__ import annotations

import io
import math
import re
import struct
import zipfile
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError

NPY_MARK, NPZ_MARK = b"\x93NUMPY", b"PK\x03\x04"
LONGEST_HEADER = 4096
MOST_ARRAYS = 1000
MOST_UNPACKED = 64
"""An .npz may unpack to this many times the length of the file, plus 1 MiB; more is no measured data."""
_KIND = re.compile(r"'descr'\s*:\s*('[^']*'|\[)")
_FORTRAN = re.compile(r"'fortran_order'\s*:\s*(True|False)")
_SHAPE = re.compile(r"'shape'\s*:\s*\(([0-9, ]*)\)")
_NUMBERS = re.compile(r"[<>=|]?[biuf](1|2|4|8)")


class UnreadArray:
    """An array that is there but holds no plain numbers; `why` says what it holds."""

    def __init__(self, why: str) -> None:
        self.why = why


def read_npy(data: bytes, source: str) -> NDArray[Any] | UnreadArray:
    """Read the bytes of one .npy file.

    Raises
    ------
    ReadError
        If the header is damaged or promises more bytes than there are.
    """
    damaged = f"{source}: the array header is damaged. Save the array again with numpy.save."
    if len(data) < 12 or not data.startswith(NPY_MARK) or data[6] not in (1, 2, 3):
        raise ReadError(damaged)
    short = data[6] == 1
    (length,) = struct.unpack_from("<H" if short else "<I", data, 8)
    first = (10 if short else 12) + length
    if length > LONGEST_HEADER or first > len(data):
        raise ReadError(damaged)
    head = data[10 if short else 12 : first].decode("latin-1")
    kind, fortran, axes = _KIND.search(head), _FORTRAN.search(head), _SHAPE.search(head)
    if kind is None or fortran is None or axes is None:
        raise ReadError(damaged)
    lengths = [length.strip() for length in axes[1].rstrip(" ,").split(",")] if axes[1].strip() else []
    if len(lengths) > 8 or not all(length.isdigit() and len(length) <= 18 for length in lengths):
        raise ReadError(damaged)
    shape = tuple(map(int, lengths))
    words = kind[1].strip("'")
    if words == "|O":
        return UnreadArray("Python objects, which are never loaded")
    if not _NUMBERS.fullmatch(words):
        return UnreadArray(f"{_plain(words)}, no plain numbers")
    try:
        dtype = np.dtype(words)
    except TypeError:
        raise ReadError(damaged) from None
    count = math.prod(shape)
    if count * dtype.itemsize > len(data) - first:
        raise ReadError(
            f"{source}: the header promises {count} numbers of {dtype.itemsize} bytes in the shape {shape}, "
            f"but {len(data) - first} bytes follow. The file is cut short: copy it again."
        )
    return np.frombuffer(data, dtype, count, first).reshape(shape, order="F" if fortran[1] == "True" else "C")


def read_npz(data: bytes, source: str) -> dict[str, NDArray[Any] | UnreadArray]:
    """Read the bytes of an .npz file to arrays by name.

    Raises
    ------
    ReadError
        If the archive is damaged, packed in a way NumPy does not use, or unpacks to far more than its length.
    """
    again = "Save the arrays again with numpy.savez."
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            if len(members) > MOST_ARRAYS:
                raise ReadError(f"{source}: holds {len(members)} arrays, more than {MOST_ARRAYS}. {again}")
            for member in members:
                packing = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
                if member.flag_bits & 1 or member.compress_type not in packing:
                    raise ReadError(
                        f"{source}: {_plain(member.filename)} is encrypted or packed otherwise. {again}"
                    )
            total = sum(member.file_size for member in members)
            if total > MOST_UNPACKED * len(data) + (1 << 20):
                raise ReadError(
                    f"{source}: {len(data)} bytes unpack to {total}, more than {MOST_UNPACKED} times as "
                    f"many, which no measured line does. {again}"
                )
            return _members(archive, members, source)
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, EOFError, OSError, RuntimeError) as problem:
        raise ReadError(f"{source}: the archive is damaged ({_plain(str(problem))}). {again}") from None
    except (ValueError, struct.error, KeyError, OverflowError) as problem:
        if isinstance(problem, ReadError):
            raise
        raise ReadError(f"{source}: the archive is damaged. {again}") from None


def _members(
    archive: zipfile.ZipFile, members: list[zipfile.ZipInfo], source: str
) -> dict[str, NDArray[Any] | UnreadArray]:
    found: dict[str, NDArray[Any] | UnreadArray] = {}
    for member in members:
        with archive.open(member) as stream:
            raw = stream.read(member.file_size)
        name = member.filename.removesuffix(".npy")
        if raw.startswith(NPY_MARK):
            found[name] = read_npy(raw, f"{source}: array {_plain(name)}")
        else:
            found[name] = UnreadArray("no NumPy array")
    return found


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text[:60])
