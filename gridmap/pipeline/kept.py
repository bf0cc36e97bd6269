"""Records to bytes and back: nested frozen records, arrays and plain values as one .npz; and a digest of the same.

No pickle: a file that somebody put there can give a wrong record, never run code.
"""

from __future__ import annotations

import dataclasses
import hashlib
import importlib
import io
import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np

from gridmap.model.array_file import ArrayFile, file_of

_MEMBER = "record"


def to_bytes(value: object, folder: Path) -> bytes:
    """Write a value as the bytes of an .npz file.

    Parameters
    ----------
    value : object
        None, bool, int, float, str, bytes, Path, NumPy array or scalar, gridmap's dataclasses, and lists, tuples and
        dicts of these.
    folder : Path
        Arrays in files are named relative to it.

    Raises
    ------
    TypeError
        For anything else.
    """
    arrays: list[np.ndarray[Any, Any]] = []
    plain = _plain(value, arrays, lambda path: str(path.relative_to(folder)))
    stream = io.BytesIO()
    members = {f"a{i}": array for i, array in enumerate(arrays)}
    np.savez(
        stream,
        allow_pickle=False,
        **{_MEMBER: np.frombuffer(json.dumps(plain).encode(), np.uint8)},
        **members,
    )
    return stream.getvalue()


def from_bytes(raw: bytes, folder: Path) -> Any:
    """Read back what `to_bytes` wrote; arrays in files stay there.

    Raises
    ------
    ValueError, KeyError, OSError, zipfile.BadZipFile
        If the bytes are not such, or a file of an array is gone or cut short.
    """
    with np.load(io.BytesIO(raw), allow_pickle=False) as members:
        return _value(json.loads(members[_MEMBER].tobytes()), members, folder)


def digest(*values: object) -> str:
    """Return 64 hexadecimal digits that differ where any of the values differs: SHA-256 of kind, shape and content."""
    arrays: list[np.ndarray[Any, Any]] = []
    plain = _plain(list(values), arrays, str)
    sha = hashlib.sha256(json.dumps(plain).encode())
    for array in arrays:
        sha.update(f"{array.dtype.str}{array.shape}".encode())
        sha.update(np.ascontiguousarray(array).data)
    return sha.hexdigest()


def _plain(value: Any, arrays: list[np.ndarray[Any, Any]], name: Callable[[Path], str]) -> Any:
    if value is None or isinstance(value, bool | str) or type(value) in (int, float):
        return value
    if isinstance(value, np.ndarray | np.generic):
        if (file := file_of(value)) is not None:
            return {"file": name(file.path)}
        arrays.append(np.asarray(value))
        return {"array" if isinstance(value, np.ndarray) else "scalar": len(arrays) - 1}
    if isinstance(value, ArrayFile):
        return {"file": name(value.path)}
    if isinstance(value, Path):
        return {"path": str(value)}
    if isinstance(value, bytes):
        arrays.append(np.frombuffer(value, np.uint8))
        return {"bytes": len(arrays) - 1}
    if isinstance(value, list | tuple):
        return {type(value).__name__: [_plain(item, arrays, name) for item in value]}
    if isinstance(value, dict):
        return {"dict": [[_plain(k, arrays, name), _plain(v, arrays, name)] for k, v in value.items()]}
    kind = type(value)
    if dataclasses.is_dataclass(value) and kind.__module__.startswith("gridmap."):
        fields = {f.name: _plain(getattr(value, f.name), arrays, name) for f in dataclasses.fields(value)}
        return {"record": f"{kind.__module__}:{kind.__qualname__}", "fields": fields}
    raise TypeError(f"{kind.__module__}.{kind.__qualname__} is not kept")


def _value(plain: Any, members: Any, folder: Path) -> Any:
    if not isinstance(plain, dict):
        return plain
    if "record" in plain:
        kind = _record(plain["record"])
        return kind(**{k: _value(v, members, folder) for k, v in plain["fields"].items()})
    ((tag, held),) = plain.items()
    if tag in ("array", "scalar", "bytes"):
        array = members[f"a{held}"]
        return array if tag == "array" else array[()] if tag == "scalar" else array.tobytes()
    if tag == "file":
        return ArrayFile.of(folder / held).array()
    if tag == "path":
        return Path(held)
    return _gathered(tag, held, lambda item: _value(item, members, folder))


def _gathered(tag: str, held: Iterable[Any], value: Callable[[Any], Any]) -> Any:
    if tag == "dict":
        return {value(k): value(v) for k, v in held}
    items = [value(item) for item in held]
    return tuple(items) if tag == "tuple" else items


def _record(name: str) -> Callable[..., Any]:
    """Find a dataclass of gridmap's by module and name."""
    module, _, kind = name.partition(":")
    if not module.startswith("gridmap."):
        raise ValueError(f"{name}: no record of gridmap's")
    found: Any = getattr(importlib.import_module(module), kind)
    if not dataclasses.is_dataclass(found) or not isinstance(found, type):
        raise ValueError(f"{name}: no record of gridmap's")
    return found
