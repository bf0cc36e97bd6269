"""The files that a job reads: their SHA-256, and whether they are still the same."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from gridmap.errors import ReadError
from gridmap.files import sha256
from gridmap.site.records import Site

Stamp = tuple[int, int, int]
"""Size, time of the last change of content, and of content or state, as the file system tells: bytes, nanoseconds."""


@dataclass(slots=True)
class Inputs:
    """What was read, as it was when its SHA-256 was taken.

    Attributes
    ----------
    sha : dict
        SHA-256 of each file.
    stamps : dict
        Stamp of each file just before.
    """

    sha: dict[Path, str] = field(default_factory=dict)
    stamps: dict[Path, Stamp] = field(default_factory=dict)

    def sha256(self, path: Path) -> str:
        """Return the SHA-256 of a file, reading it once in a run.

        Raises
        ------
        ReadError
            If it is not there or cannot be read.
        """
        if path not in self.sha:
            try:
                self.stamps[path] = stamp(path)
                self.sha[path] = sha256(path)
            except OSError as problem:
                raise ReadError(
                    f"{path.name}: {problem.strerror or problem}. Is it where it was?"
                ) from problem
        return self.sha[path]

    def refuse_changed(self, *paths: Path) -> None:
        """Raise where a file whose SHA-256 was taken is not the same any more; all of them, or those named.

        Raises
        ------
        ReadError
            With the names of up to three files.
        """
        changed = [path for path in (paths or self.sha) if not self._same(path)]
        if changed:
            names = ", ".join(path.name for path in changed[:3])
            more = f" and {len(changed) - 3} more" if len(changed) > 3 else ""
            raise ReadError(
                f"{names}{more}: changed or removed while the map was made. Nothing was written. Put the right files"
                " there and run the same command again; what does not depend on them is kept."
            )

    def _same(self, path: Path) -> bool:
        try:
            now = stamp(path)
            if now == self.stamps[path]:
                return True
            if now[0] != self.stamps[path][0] or sha256(path) != self.sha[path]:
                return False
        except OSError:
            return False
        self.stamps[path] = now
        return True


def stamp(path: Path) -> Stamp:
    """Return what the file system tells of a file's content; raises OSError where it is not there."""
    told = path.stat()
    return told.st_size, told.st_mtime_ns, told.st_ctime_ns


def shared_files(site: Site) -> list[Path]:
    """Return the files beside the lines that a site file names: track, stations, heights."""
    named: Iterable[Path | None] = (
        site.track.file if site.track else None,
        site.stations.file if site.stations else None,
        site.terrain.dem if site.terrain else None,
        site.terrain.points if site.terrain else None,
    )
    return [path for path in named if path is not None]
