"""Fixed-size records of a file, a block at a time: mapped where that is safe, else read into one buffer.

A mapped file that shrinks, or whose stick is pulled out, kills the program (SIGBUS) where a read only fails. So each
block of the map is first brought in by an advice that fails like a read does (MADV_POPULATE_READ, Linux 5.14 on).
"""

from __future__ import annotations

import mmap
import sys
from collections.abc import Iterator
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError

POPULATE_READ = 22
"""MADV_POPULATE_READ of <linux/mman.h>; Python names it from 3.14 on."""

Bytes = NDArray[np.uint8]


def record_blocks(
    stream: BinaryIO, start: int, record: int, count: int, at_once: int, source: str
) -> Iterator[Bytes]:
    """Give `count` records of `record` bytes from offset `start`, at most `at_once` at a time.

    Parameters
    ----------
    stream : binary file
        Open without a buffer, at least `start + record * count` bytes long.
    source : str
        The file, as a message names it.

    Yields
    ------
    (records, record) uint8
        Valid until the next is asked for; may be read-only.

    Raises
    ------
    ReadError
        If the file has become shorter meanwhile.
    """
    mapped = _map(stream)
    blocks = _streamed if mapped is None else _mapped
    try:
        yield from blocks(stream if mapped is None else mapped, start, record, count, at_once)  # type: ignore[operator]
    except EOFError:
        raise ReadError(
            f"{source}: the file became shorter while it was read. Copy it again, then retry."
        ) from None


def _map(stream: BinaryIO) -> mmap.mmap | None:
    """Map a file if its pages can be brought in with an error instead of a signal; else None."""
    if not sys.platform.startswith("linux"):
        return None
    try:
        mapped = mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ)
        mapped.madvise(POPULATE_READ, 0, mmap.PAGESIZE)
    except (OSError, ValueError):
        return None
    return mapped


def _mapped(mapped: mmap.mmap, start: int, record: int, count: int, at_once: int) -> Iterator[Bytes]:
    whole = np.frombuffer(mapped, np.uint8)
    for first in range(0, count, at_once):
        begin = start + first * record
        end = start + min(first + at_once, count) * record
        page = begin // mmap.PAGESIZE * mmap.PAGESIZE
        try:
            mapped.madvise(POPULATE_READ, page, end - page)
        except OSError as problem:
            raise EOFError from problem
        yield whole[begin:end].reshape(-1, record)


def _streamed(stream: BinaryIO, start: int, record: int, count: int, at_once: int) -> Iterator[Bytes]:
    buffer = np.empty((min(at_once, count), record), np.uint8)
    stream.seek(start)
    for first in range(0, count, at_once):
        block = buffer[: count - first]
        view = block.reshape(-1).data
        done = 0
        while done < len(view):
            got = stream.readinto(view[done:])  # type: ignore[attr-defined]
            if not got:
                raise EOFError
            done += got
        yield block
