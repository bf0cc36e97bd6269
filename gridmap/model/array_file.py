"""Arrays that stay in a file until they are looked at: a record's `traces` may be an array or the file of one."""

from __future__ import annotations

import math
import mmap
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridmap.model.arrays import Float32


class _Mapping(mmap.mmap):
    """A mapped file that knows its `ArrayFile`, so that an array taken from a record goes back as its file."""

    file: ArrayFile


@dataclass(frozen=True, slots=True)
class ArrayFile:
    """An .npy file of float32, such as the traces of a line.

    Attributes
    ----------
    path : Path
        The file.
    shape : tuple of int
        Of the array.
    offset : int
        Bytes before the first sample.
    writable : bool
        Whether what is written into the array goes to the file.
    """

    path: Path
    shape: tuple[int, ...]
    offset: int
    writable: bool = False

    @classmethod
    def of(cls, path: Path, writable: bool = False) -> ArrayFile:
        """Look into the header of a file that `numpy.save` wrote.

        Raises
        ------
        ValueError
            If it holds no such array, or is cut short.
        """
        with path.open("rb") as stream:
            if np.lib.format.read_magic(stream) != (1, 0):
                raise ValueError(f"{path.name}: not as gridmap writes it")
            shape, by_column, dtype = np.lib.format.read_array_header_1_0(stream)
            offset = stream.tell()
        if by_column or dtype != np.float32:
            raise ValueError(f"{path.name}: no float32 in row order")
        if path.stat().st_size != offset + 4 * math.prod(shape):
            raise ValueError(f"{path.name}: cut short")
        return cls(path, shape, offset, writable)

    def array(self) -> Float32:
        """Map the file; it is let go with the array. What is written stays in memory unless the file is `writable`."""
        if 0 in self.shape:
            return np.empty(self.shape, np.float32)
        access = mmap.ACCESS_WRITE if self.writable else mmap.ACCESS_COPY
        with self.path.open("r+b" if self.writable else "rb") as stream:
            mapping = _Mapping(stream.fileno(), 0, access=access)
        mapping.file = self
        return np.ndarray(self.shape, np.float32, mapping, self.offset)


def file_of(values: object) -> ArrayFile | None:
    """Return the file that an array is the whole of, as `ArrayFile.array` gave it; None for any other."""
    mapping = getattr(values, "base", None)
    if isinstance(mapping, _Mapping) and getattr(values, "shape", ()) == mapping.file.shape:
        return mapping.file
    return None


class Held:
    """The field of a record that takes an array or an `ArrayFile` and always gives an array."""

    def __init__(self, name: str) -> None:
        self.slot = f"_{name}"

    def __get__(self, record: Any, owner: type | None = None) -> Any:
        """Return the array, mapped anew where a file is held."""
        if record is None:
            return self
        held = record.__dict__[self.slot]
        return held.array() if isinstance(held, ArrayFile) else held

    def __set__(self, record: Any, value: Any) -> None:
        """Take an array or a file; of an array that is a whole file, only the file is held."""
        record.__dict__[self.slot] = file_of(value) or value
