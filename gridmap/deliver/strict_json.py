"""Records to strict JSON: no NaN, no NumPy types, no absolute paths."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from pathlib import Path, PurePath
from typing import Any

import numpy as np

from gridmap.errors import OurFaultError


def plain(value: Any, base: Path | None = None) -> Any:
    """Take records, arrays and paths to what JSON knows.

    Parameters
    ----------
    value : object
        Frozen records, mappings, sequences, NumPy arrays and scalars, paths, text, numbers, None.
    base : Path or None
        Folder that paths are made relative to. A path that is not below it keeps its name alone, so that
        no folder of the machine gets into a file that is passed on.

    Returns
    -------
    object
        Dicts (order kept), lists, str, int, float, bool and None. NaN and infinities become None.

    Raises
    ------
    OurFaultError
        If a value has no JSON form.
    """
    if value is None or isinstance(value, str | bool):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name), base) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item, base) for key, item in value.items()}
    if isinstance(value, PurePath):
        return relative(Path(value), base)
    if isinstance(value, np.ndarray):
        # A float32 item becomes the shortest decimal that gives it back, not sixteen digits of noise.
        return [plain(item, base) for item in value] if value.ndim else plain(value[()], base)
    if isinstance(value, np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        number = float(value) if isinstance(value, float) else float(str(value))
        return number if math.isfinite(number) else None
    if isinstance(value, set | frozenset):
        return [plain(item, base) for item in sorted(value)]
    if isinstance(value, list | tuple):
        return [plain(item, base) for item in value]
    raise OurFaultError(
        f"a {type(value).__name__} has no place in a JSON file; give numbers, text or a record"
    )


def relative(path: Path, base: Path | None) -> str:
    """Write a path relative to `base` with forward slashes; its name alone where it is not below."""
    if not path.is_absolute():
        return path.as_posix()
    if base is not None and path.is_relative_to(base):
        return path.relative_to(base).as_posix()
    return path.name


def to_text(value: Any, *, base: Path | None = None, indent: int | None = 2) -> str:
    """Write a value as strict JSON (RFC 8259) with a final line end."""
    return json.dumps(plain(value, base), indent=indent, allow_nan=False, ensure_ascii=False) + "\n"
