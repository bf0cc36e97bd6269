"""Samples of every SEG-2 data code to float32."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.read.seg2_blocks import ByteOrder

_PLAIN = {1: "i2", 2: "i4", 4: "f4", 5: "f8"}


def decode(raw: memoryview, code: int, samples: int, order: ByteOrder) -> NDArray[Any]:
    """Decode the samples of one trace, (sample,) in a type wide enough to lose nothing.

    Parameters
    ----------
    raw : memoryview
        At least the bytes that `seg2_blocks.stored_bytes` says.
    code : int
        1: 16-bit integer, 2: 32-bit integer, 3: 20-bit packed float, 4 and 5: IEEE floats of 32 and 64 bits.
    samples : int
        How many.
    order : "<" or ">"
        Byte order of the file.
    """
    if code == 3:
        return unpack_20_bit(np.frombuffer(raw, np.dtype(order + "u2"), -(-samples // 4) * 5))[:samples]
    return np.frombuffer(raw, np.dtype(order + _PLAIN[code]), samples)


def unpack_20_bit(words: NDArray[np.uint16]) -> NDArray[np.int32]:
    """Unpack groups of five 16-bit words: four exponents of 4 bits, then four mantissas in one's complement.

    The first sample's exponent is the lowest four bits of the first word; value = mantissa * 2**exponent.
    Minus zero (all bits set) is 0.

    Parameters
    ----------
    words : (5 * group,) uint16
        As stored.

    Returns
    -------
    (4 * group,) int32
        At most 2**30 in magnitude: exact.
    """
    group = words.astype(np.uint16).reshape(-1, 5)
    mantissa = group[:, 1:].view(np.int16).astype(np.int32)
    mantissa += mantissa < 0
    exponent = group[:, :1].astype(np.int32) >> np.array([0, 4, 8, 12], np.int32) & 15
    return (mantissa << exponent).reshape(-1)
