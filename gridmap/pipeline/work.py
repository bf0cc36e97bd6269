"""The work folder: what each stage made, under a name that says what it was made from, so that a job can go on.

A product is a file `STAGE-KEY.npz`, and beside it `STAGE-KEY-N.npy` where it holds large arrays. The key is the SHA-256
of everything that the product depends on: contents of the input files, the settings that the stage looks at, the key of
the stage before, the version of the stage and of gridmap. So a changed setting finds no product of that name and redoes
what depends on it, and nothing else. Every file is written under another name first: what has its name is whole.
"""

from __future__ import annotations

import contextlib
import json
import math
import mmap
import os
import shutil
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import IO, Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from gridmap._version import VERSION
from gridmap.errors import OutputError
from gridmap.files import lock_file, whole_file
from gridmap.model import CleanLine, Float32
from gridmap.model.array_file import ArrayFile, file_of
from gridmap.pipeline.kept import digest, from_bytes, to_bytes
from gridmap.pipeline.run import Run

T = TypeVar("T")

VERSIONS = {
    "recipe": 1,
    "prepared": 1,
    "conditioned": 1,
    "placed": 1,
    "levelled": 1,
    "velocity": 1,
    "volume": 2,
    "features": 1,
}
"""Of each stage: raised when it gives another result from the same input."""

ROOM_BYTES = 500_000_000
"""An array up to this size that a stage asks room for is in memory."""

_MARK = "gridmap-work.json"
_LAYOUT = 1


class Work:
    """A work folder that this run holds alone.

    Parameters
    ----------
    folder : Path
        Made where it does not exist.

    Attributes
    ----------
    folder : Path
        Absolute.
    kept : int
        How many products of an earlier run were used.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.kept = 0
        self._lock: IO[str] | None = None

    def open(self) -> None:
        """Make or take over the folder, and lock it against a second run.

        Raises
        ------
        OutputError
            If it holds something else, another run works in it, or the disk says no.
        """
        mark = self.folder / _MARK
        if self.folder.exists() and not self.folder.is_dir():
            raise OutputError(f"{self.folder}: is a file. Name another work folder with --work.")
        if self.folder.is_dir() and any(self.folder.iterdir()) and not mark.exists():
            raise OutputError(
                f"{self.folder}: holds something that is not gridmap's work. Name another work folder with --work."
            )
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            self._lock = mark.open("a+", encoding="utf-8")
            lock_file(self._lock)
        except BlockingIOError:
            raise OutputError(
                f"{self.folder}: another run works in it. Wait for it to end, or give this one a folder with --work."
            ) from None
        except OSError as problem:
            raise OutputError(
                f"{self.folder}: {problem.strerror or problem}. Name a work folder that can be written with --work."
            ) from problem
        self._take_over()

    def _take_over(self) -> None:
        """Start afresh where another version left something; sweep up what a killed run was writing."""
        assert self._lock is not None
        self._lock.seek(0)
        told = self._lock.read()
        with contextlib.suppress(ValueError):
            if told and json.loads(told) == {"program": "gridmap", "version": VERSION, "layout": _LAYOUT}:
                for path in self.folder.glob(".*"):
                    _remove(path)
                return
        for path in self.folder.iterdir():
            if path.name != _MARK:
                _remove(path)
        self._lock.truncate(0)
        json.dump({"program": "gridmap", "version": VERSION, "layout": _LAYOUT}, self._lock)
        self._lock.flush()

    @contextlib.contextmanager
    def held(self, keep: bool = False) -> Iterator[None]:
        """Hold the folder for a job: gone when the job is done (unless `keep`), there to go on from when it is not.

        Raises
        ------
        OutputError
            As `open`.
        KeyboardInterrupt
            With a sentence that says how to go on.
        """
        self.open()
        done = False
        try:
            yield
            done = True
        except KeyboardInterrupt as stop:
            if self.empty:
                raise
            raise KeyboardInterrupt(
                f"stopped. What was done is kept in {self.folder}: the same command goes on from there. "
                "Delete that folder if you do not want to go on."
            ) from stop
        finally:
            self._close(remove=self.empty or (done and not keep))

    @property
    def empty(self) -> bool:
        """Whether no product is there."""
        return not any(self.folder.glob("*-*.npz"))

    def _close(self, remove: bool) -> None:
        assert self._lock is not None
        if remove:
            shutil.rmtree(self.folder, ignore_errors=True)
        self._lock.close()
        self._lock = None

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """Say in words that the disk refused something."""
        try:
            yield
        except OSError as problem:
            raise OutputError(
                f"{self.folder}: {problem.strerror or problem}. Free space there or choose another work folder with"
                " --work; in this one, what is done is kept, and the same command goes on from it."
            ) from problem

    def key(self, stage: str, *depends: object) -> str:
        """Name a product of a stage by what it depends on."""
        return digest(stage, VERSIONS[stage], VERSION, *depends)[:40]

    def look(self, stage: str, key: str) -> Any:
        """Return a product, or None where it is not there or cannot be read."""
        path = self._path(stage, key)
        try:
            made = from_bytes(path.read_bytes(), self.folder)
        except FileNotFoundError:
            return None
        except (OSError, ValueError, KeyError, TypeError, AttributeError, ImportError, zipfile.BadZipFile):
            path.unlink(missing_ok=True)
            return None
        self.kept += 1
        return made

    def keep(self, stage: str, key: str, made: object) -> None:
        """Store a product, whole or not at all."""
        raw = to_bytes(made, self.folder)
        with self.writing(), whole_file(self._path(stage, key)) as path:
            path.write_bytes(raw)

    def once(self, stage: str, key: str, run: Run, make: Callable[[], T]) -> T:
        """Return the product of a stage: from an earlier run, or made now and stored; messages come back with it."""
        if (told := self.look(stage, key)) is not None:
            made, notes, warnings = told
            run.notes += notes
            run.warnings += warnings
            run.was_kept()
            return made  # type: ignore[no-any-return]
        before = len(run.notes), len(run.warnings)
        made = make()
        self.keep(stage, key, (made, run.notes[before[0] :], run.warnings[before[1] :]))
        return made

    def store(self, stage: str, key: str, values: Float32) -> Float32:
        """Put an array into a file of its own, and return the file mapped."""
        file = self.folder / f"{stage}-{key}.npy"
        with self.writing(), whole_file(file) as path:
            _write(path, values)
        return ArrayFile.of(file).array()

    def stored(self, stage: str, key: str, lines: Sequence[CleanLine]) -> list[CleanLine]:
        """Put the traces of those lines into files that are not in one yet."""
        return [
            line
            if file_of(line.traces) is not None
            else replace(line, traces=self.store(stage, f"{key}-{i}", line.traces))
            for i, line in enumerate(lines)
        ]

    def rewrite(
        self,
        stage: str,
        key: str,
        lines: Sequence[CleanLine],
        samples: int,
        change: Callable[[list[CleanLine]], T],
    ) -> tuple[T, list[CleanLine]]:
        """Copy traces into files of a stage and change them there.

        Parameters
        ----------
        stage, key : str
            Of the product that the copies belong to.
        lines : sequence of CleanLine
            Any lines; their own traces stay as they are.
        samples : int
            Of the copies.
        change : callable
            Takes the copies and works on their traces in place; they get their names when it returns.

        Returns
        -------
        made : object
            What `change` returned.
        lines : list of CleanLine
            The given ones with the new traces.
        """
        names = [self.folder / f"{stage}-{key}-{i}.npy" for i in range(len(lines))]
        parts = [name.with_name("." + name.name) for name in names]
        copies = []
        try:
            with self.writing():
                for part, line in zip(parts, lines, strict=True):
                    _write(part, line.traces[:, :samples])
                    copies.append(replace(line, traces=ArrayFile.of(part, writable=True).array()))
            made = change(copies)
            for part, name in zip(parts, names, strict=True):
                part.replace(name)
        finally:
            for part in parts:
                part.unlink(missing_ok=True)
        return made, [
            replace(line, traces=ArrayFile.of(name).array()) for line, name in zip(lines, names, strict=True)
        ]

    def room(self, shape: tuple[int, ...]) -> NDArray[np.complex64]:
        """Give an array, whatever is in it: in memory where it is small, else in a file that goes with it.

        What a file holds the system can put back on the disk when memory is short. The space on the disk is taken
        here: a disk that is full would otherwise only be noticed when the system writes there, and end the job.
        """
        size = 8 * math.prod(shape)
        if size <= ROOM_BYTES:
            return np.empty(shape, np.complex64)
        path = self.folder / ".room"
        with self.writing(), path.open("w+b") as stream:
            try:
                if hasattr(os, "posix_fallocate"):
                    os.posix_fallocate(stream.fileno(), 0, size)
                else:
                    for first in range(0, size, 2**24):
                        stream.write(bytes(min(2**24, size - first)))
                    stream.flush()
                mapping = mmap.mmap(stream.fileno(), size)
            finally:
                with contextlib.suppress(
                    OSError
                ):  # Some systems keep the name of an open file: it goes with the rest.
                    path.unlink()
        return np.ndarray(shape, np.complex64, mapping)

    def _path(self, stage: str, key: str) -> Path:
        return self.folder / f"{stage}-{key}.npz"


def _write(path: Path, values: Float32) -> None:
    """Write an .npy file by plain writes: `numpy.save` would not say why the disk refuses."""
    values = np.ascontiguousarray(values, np.float32)
    with path.open("wb") as stream:
        head = {"descr": "<f4", "fortran_order": False, "shape": values.shape}
        np.lib.format.write_array_header_1_0(stream, head)
        stream.write(values.data)


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


def work_folder(out: Path, named: Path | None) -> Path:
    """Return where a job keeps its work: the folder named, else OUT.work beside OUT."""
    out = Path(os.path.abspath(out))  # noqa: PTH100 -- as it is named, links not followed
    return named.absolute() if named is not None else out.with_name(out.name + ".work")
