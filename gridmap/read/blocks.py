"""Fixed-size records of a file, a block at a time, read into one buffer.

Plain reads, not a mapped file: if the file shrinks or its stick is pulled out, a read fails with an error that can
be told, where a mapped page kills the program (SIGBUS). Mapping was measured: no faster for one file of 40 MB, a
fifth slower for many of 2 MB.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError


def record_blocks(
    stream: BinaryIO, start: int, record: int, count: int, at_once: int, source: str
) -> Iterator[NDArray[np.uint8]]:
    """Give `count` records of `record` bytes from offset `start`, at most `at_once` at a time.

    Parameters
    ----------
    stream : binary file
        Open without a buffer, at least `start + record * count` bytes long.
    start, record, count, at_once : int
        Offset of the first record and length of each, bytes; records in all and in a block.
    source : str
        The file, as a message names it.

    Yields
    ------
    (records, record) uint8
        Overwritten when the next is asked for.

    Raises
    ------
    ReadError
        If the file has become shorter meanwhile.
    """
    buffer = np.empty((min(at_once, count), record), np.uint8)
    stream.seek(start)
    for first in range(0, count, at_once):
        block = buffer[: count - first]
        view = block.reshape(-1).data
        done = 0
        while done < len(view):
            got = stream.readinto(view[done:])  # type: ignore[attr-defined]
            if not got:
                raise ReadError(
                    f"{source}: the file became shorter while it was read. Copy it again, then retry."
                )
            done += got
        yield block
