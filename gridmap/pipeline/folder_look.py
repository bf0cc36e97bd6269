"""What stands in a watched folder: every file that may be a line, with what the system says of it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from gridmap.check.arrivals import Stamp
from gridmap.pipeline.new_site import SKIPPED

UNFINISHED = {".part", ".partial", ".tmp", ".temp", ".filepart", ".crdownload", ".download"}
"""Suffixes under which programs copy before they give a file its name."""


def stamp_of(path: Path) -> Stamp | None:
    """Ask the system about one file; None where it is not there or cannot be asked."""
    try:
        status = path.stat()
    except (OSError, ValueError):
        return None
    changed = status.st_ctime_ns if os.name == "posix" else 0
    return Stamp(status.st_size, status.st_mtime_ns, changed, status.st_ino)


def device_of(folder: Path) -> int | None:
    """Say which device a folder lies on; None where it is not there."""
    try:
        return folder.stat().st_dev if folder.is_dir() else None
    except OSError:
        return None


def files_in(folder: Path, device: int | None = None) -> dict[str, Stamp] | None:
    """List every file that may be a line, in all folders below.

    Parameters
    ----------
    folder : Path
        Where to look.
    device : int or None
        Where the folder must lie on this device: a stick that is pulled may leave an empty folder in its place.

    Returns
    -------
    dict of str to Stamp, or None
        By the path below `folder`, with /; None: the folder is not there or cannot be read.
    """
    found: dict[str, Stamp] = {}
    try:
        if device is not None and folder.stat().st_dev != device:
            return None
        for path in _below(folder):
            stamp = stamp_of(path)
            if stamp is not None:
                found[path.relative_to(folder).as_posix()] = stamp
        if device is not None and folder.stat().st_dev != device:
            return None
    except OSError:
        return None
    return found


def _below(folder: Path, depth: int = 0) -> Iterator[Path]:
    """Give files in a folder and, where they can be read, in those below it; links to folders are not followed."""
    try:
        with os.scandir(folder) as entries:
            held = sorted(entries, key=lambda e: e.name)
    except OSError:
        if depth == 0:
            raise
        return
    for entry in held:
        if entry.name.startswith((".", "~")):
            continue
        path = folder / entry.name
        try:
            if entry.is_dir(follow_symlinks=False):
                yield from _below(path, depth + 1)
            elif entry.is_file() and path.suffix.lower() not in SKIPPED | UNFINISHED:
                yield path
        except OSError:  # went away while it was asked about
            continue
