"""Open a data file, or say in one line why not."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, cast

from gridmap.errors import ReadError


@contextmanager
def open_file(path: Path) -> Iterator[BinaryIO]:
    """Open a regular file for reading bytes, without a buffer.

    Raises
    ------
    ReadError
        If it is missing, a folder, no regular file, or may not be read; also if reading fails later.
    """
    try:
        if path.is_dir():
            raise ReadError(f"{path.name}: is a folder, not a line file. Name a file in it.")
        if not path.exists():
            raise ReadError(
                f"{path.name}: no such file. Check the name in the site file and the folder {path.parent}."
            )
        if not path.is_file():
            raise ReadError(f"{path.name}: is a device or pipe, not a file. Copy the line to a file first.")
        with path.open("rb", buffering=0) as stream:
            yield cast(BinaryIO, stream)
    except (OSError, ValueError) as problem:
        if isinstance(problem, ReadError):
            raise
        words = getattr(problem, "strerror", None) or str(problem)
        raise ReadError(
            f"{path.name}: cannot be read ({words}). Check the file and its permissions."
        ) from None
