"""Whole files or none: write under a temporary name in the same folder, then rename; SHA-256 of inputs."""

from __future__ import annotations

import hashlib
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


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
    """Give a temporary folder beside `path`; on success it replaces `path`, on failure it is removed."""
    temporary = path.with_name(f".{path.name}.{uuid.uuid4().hex[:8]}")
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
