"""One map under review: what the server's answers are made of."""

from __future__ import annotations

import base64
import hashlib
import json
import sqlite3
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from gridmap.deliver.html import blocks_of, json_in_html, render
from gridmap.deliver.page_slices import to_bytes
from gridmap.errors import GridmapError, InputError, ReadError
from gridmap.model import Similarity, Volume
from gridmap.page.base_picture import BasePicture, read_base
from gridmap.page.change import ChangeError, read_change
from gridmap.page.rows import all_rows, stamp_of
from gridmap.page.save import save_change
from gridmap.page.section import cut_volume
from gridmap.volume.store import read_volume

Answer = tuple[int, dict[str, Any]]
_BUSY = "features.gpkg is held by another program. Close it there, or wait: the change is tried again."


@dataclass(slots=True)
class Review:
    """A finished map and what a reader adds to it.

    Attributes
    ----------
    out : Path
        Folder of `gridmap map`.
    base : BasePicture or None
        Site plan or orthophoto to lie under the slices.
    """

    out: Path
    base: BasePicture | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _volume: tuple[str, Volume] | None = None

    @property
    def features(self) -> Path:
        """The file that changes are saved in."""
        return self.out / "features.gpkg"

    def page(self, api: str) -> str:
        """Make the page that is reviewed on, from what lies in the folder now."""
        picture = None if self.base is None else {"bounds": self.base.bounds}
        name = hashlib.sha256(str(self.out.absolute()).encode()).hexdigest()[:16]
        live = {"api": api, "map": name, "base": picture}
        return render({**self._blocks(), "live": json_in_html(live)}, "'self'")

    def copy_for_client(self) -> str:
        """Make the read-only page with the features as they stand now."""
        blocks = self._blocks()
        data = json.loads(blocks["data"])
        data["features"] = [
            {key: value for key, value in row.items() if key != "fid"} for row in all_rows(self.features)
        ]
        return render({**blocks, "data": json_in_html(data)})

    def rows(self, unless: str = "") -> Answer:
        """Give all rows, or the stamp alone where the file is as the browser knows it."""
        stamp = stamp_of(self.features)
        if unless == stamp:
            return 200, {"stamp": stamp}
        return self._guarded(lambda: (200, {"stamp": stamp, "rows": all_rows(self.features)}))

    def change(self, asked: Any) -> Answer:
        """Save one change: 200 with the row, 409 with the row as another left it, 400 where it makes no sense."""

        def save() -> Answer:
            with self._lock:
                saved = save_change(self.features, read_change(asked))
            answer = {"row": saved.row, "stamp": stamp_of(self.features)}
            return 409 if saved.refused else 200, answer

        return self._guarded(save)

    def section(self, words: str) -> Answer:
        """Cut the volume along a path, written "easting,northing;..." and on, into bytes scaled as the slices are."""

        def cut() -> Answer:
            try:
                path = np.array([[float(v) for v in at.split(",")] for at in words.split(";")])
            except ValueError as problem:
                raise ChangeError("the path is no list of places") from problem
            if path.ndim != 2 or path.shape[1] != 2 or len(path) < 2 or not np.isfinite(path).all():
                raise ChangeError("the path is no list of places")
            data = json.loads(self._blocks()["data"])
            with self._lock:
                volume = self._read_volume()
            values, step = cut_volume(volume, Similarity(*data["transform"]), path)
            stack = next(s for s in data["stacks"] if s["windows"][0]["axis"] != "time")
            cells = to_bytes(values, (stack["low"], stack["high"]))
            depth = volume.axis_values()
            return 200, {
                "traces": cells.shape[0], "samples": cells.shape[1], "step": step,
                "from": float(depth[0]), "to": float(depth[-1]), "cells": base64.b64encode(cells.tobytes()).decode(),
            }  # fmt: skip

        return self._guarded(cut)

    def _read_volume(self) -> Volume:
        """Read the volume as it lies in the folder, once."""
        folder = self.out / "volume.zarr"
        stamp = stamp_of(folder / "zarr.json")
        if self._volume is None or self._volume[0] != stamp:
            self._volume = stamp, read_volume(folder)
        return self._volume[1]

    def _guarded(self, does: Any) -> Answer:
        try:
            answer: Answer = does()
        except InputError as problem:
            return 400, {"error": str(problem)}
        except sqlite3.OperationalError:
            return 503, {"error": _BUSY}
        except (GridmapError, OSError) as problem:
            return 500, {"error": " ".join(str(problem).split())}
        return answer

    def _blocks(self) -> dict[str, str]:
        try:
            return blocks_of((self.out / "index.html").read_text(encoding="utf-8"))
        except OSError as problem:
            raise ReadError(f"{self.out}: index.html cannot be read ({problem.strerror}).") from problem


def open_review(out: Path, base: Path | None = None) -> Review:
    """Open a finished map.

    Parameters
    ----------
    out : Path
        Folder of `gridmap map`.
    base : Path or None
        GeoTIFF to lie under the slices.

    Returns
    -------
    Review
        Ready to be served.

    Raises
    ------
    InputError
        If the folder is no finished map, or the picture cannot lie under it.
    """
    for name in ("index.html", "features.gpkg"):
        if not (out / name).is_file():
            raise InputError(f"{out}: has no {name}, so it is no finished map. Make one with gridmap map.")
    review = Review(out)
    review.page("")
    all_rows(review.features)
    if base is not None:
        review.base = read_base(
            base, review.features, blocks_of((out / "index.html").read_text(encoding="utf-8"))
        )
    return review
