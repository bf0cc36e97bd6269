"""Whole files or none: write under a temporary name in the same folder, then rename; SHA-256 of inputs; a lock."""

from __future__ import annotations

import hashlib
import shutil
import sys
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a temporary path beside `path`; on success it is renamed to `path`, on failure removed.

    Parameters
    ----------
    path : Path
        Where the finished file is to stand. Its folder must exist.

    Yields
    ------
    Path
        A name in the same folder, with the same suffix, that does not exist yet.
    """
    temporary = path.with_name(f".{path.stem}.{uuid.uuid4().hex[:8]}{path.suffix}")
    try:
        yield temporary
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def whole_folder(path: Path) -> Iterator[Path]:
    """Give a temporary folder beside `path`; on success it replaces `path`, on failure it is removed.

    What a killed process left under the temporary name is removed first.
    """
    temporary = path.with_name(f".{path.name}.unfinished")
    if temporary.exists():
        shutil.rmtree(temporary)
    temporary.mkdir(parents=True)
    try:
        yield temporary
        if path.exists():
            shutil.rmtree(path)
        temporary.replace(path)
    finally:
        if temporary.exists():
            shutil.rmtree(temporary)


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text with Unix line ends, whole or not at all."""
    with whole_file(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def sha256(path: Path) -> str:
    """Return the SHA-256 of a file as hexadecimal digits, read in blocks of 1 MiB."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def lock_file(stream: IO[Any]) -> None:
    """Hold an open file alone until it is closed or the process ends; raises BlockingIOError where another has it."""
    if sys.platform == "win32":
        import msvcrt

        try:
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError as problem:
            raise BlockingIOError(*problem.args) from None
    else:
        import fcntl

        fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
