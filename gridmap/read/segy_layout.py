"""SEG-Y as the standard lays it out: where each field stands, which sample formats exist.

Source: SEG-Y revisions 0 (1975), 1 (2002) and 2.0/2.1 (2017, 2023); byte numbers count from 1, as the
standard prints them.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

ByteOrder = Literal[">", "<"]
Heads = NDArray[np.uint32]
"""Trace headers, (60, trace): each row one 4-byte word of every header, bytes as stored.

Only the rows of `HELD_WORDS` need be filled.
"""

TEXT_BYTES = 3200
FILE_HEADER_BYTES = 3600
TRACE_HEADER_BYTES = 240
WORD = 4
HEADER_WORDS = TRACE_HEADER_BYTES // WORD
ORDER_WORDS: dict[str, str] = {">": "big-endian", "<": "little-endian"}
ORDER_MARK = bytes((1, 2, 3, 4))
"""Bytes 3297-3300 of a revision 2 file in big-endian order (16909060)."""


@dataclass(frozen=True, slots=True)
class SampleFormat:
    """One sample format: its code in bytes 3225-3226, words for people, bytes a sample, NumPy kind.

    `kind` is "ibm" for IBM System/360 hexadecimal floating point, else a NumPy type without byte order.
    """

    code: int
    words: str
    width: int
    kind: str


FORMATS: dict[int, SampleFormat] = {
    f.code: f
    for f in (
        SampleFormat(1, "32-bit IBM float", 4, "ibm"),
        SampleFormat(2, "32-bit integer", 4, "i4"),
        SampleFormat(3, "16-bit integer", 2, "i2"),
        SampleFormat(5, "32-bit IEEE float", 4, "f4"),
        SampleFormat(6, "64-bit IEEE float", 8, "f8"),
        SampleFormat(8, "8-bit integer", 1, "i1"),
        SampleFormat(10, "32-bit unsigned integer", 4, "u4"),
        SampleFormat(11, "16-bit unsigned integer", 2, "u2"),
        SampleFormat(16, "8-bit unsigned integer", 1, "u1"),
    )
}
"""The formats that are read."""

REFUSED_FORMATS: dict[int, str] = {
    4: "32-bit fixed point with gain, obsolete",
    7: "24-bit integer",
    9: "64-bit integer",
    12: "64-bit unsigned integer",
    15: "24-bit unsigned integer",
}
"""Formats of the standard that are not read; a file that uses one is refused by name."""

# Binary file header: first byte, struct kind.
INTERVAL = (3217, "h")
SAMPLES = (3221, "H")
FORMAT = (3225, "h")
EXTENDED_SAMPLES = (3269, "i")
EXTENDED_INTERVAL_US = (3273, "d")
FIXED_LENGTH = (3503, "h")
EXTENDED_TEXTS = (3505, "h")
EXTRA_TRACE_HEADERS = (3507, "H")
EXTRA_TRACE_HEADERS_WIDE = (3507, "i")
TRACE_COUNT = (3513, "Q")
FIRST_TRACE_OFFSET = (3521, "Q")
TRAILERS = (3529, "i")

# Trace header: first byte, struct kind.
T_TRACE_NUMBER = (13, "i")
T_XY_SCALAR = (71, "h")
T_SOURCE_XY = ((73, "i"), (77, "i"))
T_GROUP_XY = ((81, "i"), (85, "i"))
T_XY_UNITS = (89, "h")
T_DELAY = (109, "h")
T_SAMPLES = (115, "H")
T_INTERVAL = (117, "h")
T_CLOCK = ((157, "h"), (159, "h"), (161, "h"), (163, "h"), (165, "h"))
T_TIME_BASIS = (167, "h")
T_ENSEMBLE_XY = ((181, "i"), (185, "i"))
T_TIME_SCALAR = (215, "h")
T_MILLISECONDS = (233, "i")


HELD_WORDS = (slice(3, 4), slice(17, 30), slice(39, 47), slice(53, 59))
"""Rows of `Heads` that hold the fields above."""


def file_field(head: bytes, field: tuple[int, str], order: ByteOrder) -> Any:
    """Read one number of the binary file header; `head` holds the first 3600 bytes of the file."""
    byte, kind = field
    return struct.unpack_from(order + kind, head, byte - 1)[0]


def trace_field(heads: Heads, field: tuple[int, str], order: ByteOrder) -> NDArray[Any]:
    """Read one number of every trace header: (60, trace) words as stored to (trace,) in native order.

    No field of two or four bytes crosses a word: the standard keeps them aligned.
    """
    byte, kind = field
    dtype = np.dtype(kind)
    word, inside = divmod(byte - 1, WORD)
    row = heads[word].view(dtype.newbyteorder(order))
    numbers: NDArray[Any] = row[inside // dtype.itemsize :: WORD // dtype.itemsize].astype(dtype)
    return numbers
