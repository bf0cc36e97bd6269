"""What a browser asks to change, checked before anything is touched."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from gridmap.errors import InputError
from gridmap.model.feature_columns import PERSON
from gridmap.model.interpretation import STATUSES

LAYERS = {"linear": 2, "outlines": 3, "points": 1}
"""Layers whose shapes a person may draw or move, and the fewest vertices of a shape."""
MOST_VERTICES = 5000
MOST_LETTERS = 4000
_FARTHEST_M = 1e8
_WORDS_OF_CANDIDATES = ("status", "note", "by", "when")

Path = tuple[tuple[float, float], ...]


class ChangeError(InputError):
    """A change that no page of ours would ask for; nothing was touched."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change of one row.

    Attributes
    ----------
    layer : str
        Layer of the row.
    fid : int or None
        Its key; None for a new row.
    words : mapping of str to (before, after)
        Columns of a person's; None where nothing stands.
    path : (before, after) or None
        Vertices in plan, map metres, without the closing one of a ring.
    new : (vertices, columns) or None
        A row to be added.
    remove : bool
        Whether the row goes.
    """

    layer: str
    fid: int | None
    words: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    path: tuple[Path, Path] | None = None
    new: tuple[Path, Mapping[str, Any]] | None = None
    remove: bool = False


def read_change(asked: Any) -> Change:
    """Check a change as it came over the wire.

    Raises
    ------
    ChangeError
        If anything in it is not as the page writes it.
    """
    if not isinstance(asked, dict):
        raise ChangeError("the change is no object")
    layer, fid = asked.get("layer"), asked.get("fid")
    if layer not in LAYERS and layer != "rejected":
        raise ChangeError("the layer is none that may be changed")
    if fid is not None and (not isinstance(fid, int) or isinstance(fid, bool)):
        raise ChangeError("fid is no whole number")
    new = asked.get("add")
    if new is not None:
        if layer not in LAYERS or not isinstance(new, dict):
            raise ChangeError("nothing can be added there")
        columns = {
            name: _said(layer, name, value, new=True) for name, value in _object(new.get("columns")).items()
        }
        return Change(layer, None, new=(_path(layer, new.get("path")), columns))
    if fid is None:
        raise ChangeError("the row has no fid")
    if asked.get("remove") is True:
        return Change(layer, fid, remove=True)
    words = {}
    for name, pair in _object(asked.get("set", {})).items():
        if not isinstance(pair, list) or len(pair) != 2:
            raise ChangeError(f"{name}: needs what stood there and what is to stand there")
        words[name] = (pair[0], _said(layer, name, pair[1]))
    path = asked.get("path")
    if path is not None:
        if layer not in LAYERS or not isinstance(path, list) or len(path) != 2:
            raise ChangeError("the shape cannot be changed so")
        path = (_path(layer, path[0]), _path(layer, path[1]))
    return Change(layer, fid, words, path)


def _object(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise ChangeError("needs an object of columns")
    return value


def _said(layer: str, name: str, value: Any, *, new: bool = False) -> Any:
    allowed = PERSON if layer in LAYERS else _WORDS_OF_CANDIDATES
    if name not in allowed and not (new and name in ("id", "depth_top_m")):
        raise ChangeError(f"{name[:40]!r} is no column that a person writes")
    if value is None:
        return None
    if name in ("depth_said_m", "depth_top_m"):
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 1000:
            raise ChangeError(f"{name}: a depth in metres is needed")
        return float(value)
    if not isinstance(value, str) or len(value) > MOST_LETTERS:
        raise ChangeError(f"{name}: text of at most {MOST_LETTERS} letters is needed")
    if name == "status" and value not in STATUSES:
        raise ChangeError(f"status is one of {', '.join(STATUSES)}")
    return value


def _path(layer: str, value: Any) -> Path:
    fewest = LAYERS[layer]
    if not isinstance(value, list) or not fewest <= len(value) <= (1 if layer == "points" else MOST_VERTICES):
        raise ChangeError(f"{layer}: at least {fewest} and at most {MOST_VERTICES} vertices are needed")
    vertices = []
    for at in value:
        fine = isinstance(at, list) and len(at) == 2 and all(
            isinstance(v, int | float) and not isinstance(v, bool) and math.isfinite(v) and abs(v) < _FARTHEST_M
            for v in at
        )  # fmt: skip
        if not fine:
            raise ChangeError("a vertex is two finite numbers, metres")
        vertices.append((float(at[0]), float(at[1])))
    if len(set(vertices)) < fewest:
        raise ChangeError(f"{layer}: needs {fewest} vertices at different places")
    return tuple(vertices)
