"""Read a track of GPX 1.1 (or 1.0), safely: no document type, no entities, no deep nesting."""

from __future__ import annotations

import math
import re
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

from gridmap.errors import ReadError
from gridmap.model.track import Track
from gridmap.read.track_times import iso_seconds, make_track
from gridmap.read.whole import read_whole

DEEPEST = 40
"""Elements inside each other; GPX itself needs about six."""

LONGEST_TEXT = 200
"""Characters of a value that is used; none comes near."""

_NUMBER = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d{0,20})?|\.\d{1,20})(?:[eE][+-]?\d{1,2})?")
_FIX = {"none": 0, "2d": 1, "3d": 1, "dgps": 2, "pps": 3}
_USED = ("ele", "time", "geoidheight", "fix")
_BLOCK = 1 << 16


class _UnsafeError(ValueError):
    """The document holds what a track never needs and what can be made to harm."""


class _Points:
    """Collects track points while the file goes by; no tree is kept."""

    def __init__(self) -> None:
        self.path: list[str] = []
        self.rows: list[tuple[float, float, float, float, float, int, float, float, float]] = []
        self.counts: Counter[str] = Counter()
        self._place: tuple[float, float] | None = None
        self._values: dict[str, str] = {}
        self._text = ""

    def doctype(self, name: str, public: str | None, system: str | None) -> None:
        raise _UnsafeError("a document type")

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = tag.rpartition("}")[2]
        if not self.path and name != "gpx":
            raise _UnsafeError(f"<{name[:30]}> as its root, not <gpx>")
        self.path.append(name)
        if len(self.path) > DEEPEST:
            raise _UnsafeError(f"more than {DEEPEST} elements inside each other")
        self._text = ""
        if name == "trkpt":
            self.counts["points"] += 1
            self._values = {}
            lon, lat = (_number(attributes.get(key, "")) for key in ("lon", "lat"))
            good = abs(lat) <= 90 and abs(lon) <= 180  # false for NaN
            self._place = (lon, lat) if good else None
        elif name in ("wpt", "rtept"):
            self.counts["others"] += 1

    def data(self, text: str) -> None:
        if self.path and self.path[-1] in _USED and len(self._text) <= LONGEST_TEXT:
            self._text += text[: LONGEST_TEXT + 1]

    def end(self, tag: str) -> None:
        name = self.path.pop()
        if name in _USED and self.path[-1:] == ["trkpt"]:
            self._values[name] = self._text.strip()
        elif name == "trkpt":
            self._finish()

    def close(self) -> None:
        """Nothing is left to do."""

    def _finish(self) -> None:
        if self._place is None:
            self.counts["without latitude and longitude that can be right"] += 1
            return
        quality = _FIX.get(self._values.get("fix", ""), -1)
        if quality == 0:
            self.counts["without a fix"] += 1
            return
        if "time" not in self._values:
            self.counts["without a time"] += 1
            return
        time = iso_seconds(self._values["time"])
        if time is None:
            self.counts["with a time that is not understood"] += 1
            return
        self.counts["zoneless"] += not time[1]
        height, geoid = (_number(self._values.get(key, "")) for key in ("ele", "geoidheight"))
        nan = math.nan
        self.rows.append((time[0], *self._place, height, geoid, quality, nan, nan, nan))


_LEFT_OUT = (
    "without latitude and longitude that can be right",
    "without a fix",
    "without a time",
    "with a time that is not understood",
)


def looks_like_gpx(head: bytes) -> bool:
    """Say whether the first bytes of a file hold the root of a GPX document."""
    return re.search(rb"<(?:[A-Za-z]\w*:)?gpx[\s>]", head.replace(b"\x00", b"")) is not None


def read_gpx(path: Path | str) -> Track:
    """Read the track points of a GPX document.

    Parameters
    ----------
    path : Path
        The document. Way points and routes are counted and passed over, as are elements that GPX 1.1 does
        not have.

    Returns
    -------
    Track
        In degrees, dated. Heights (`ele`) are above the geoid by the standard; `geoidheight` is kept.
        Quality from `fix`: 2d and 3d are autonomous, dgps differential, pps precise service.

    Raises
    ------
    ReadError
        If the file cannot be read, is no GPX, is not well formed, holds a document type or entities (refused
        unread), or has no track point with a place and a time.
    """
    path = Path(path)
    raw = read_whole(path)
    points = _Points()
    parser = ElementTree.XMLParser(target=points)
    try:
        for start in range(0, len(raw), _BLOCK):
            parser.feed(raw[start : start + _BLOCK])
        parser.close()
    except _UnsafeError as problem:
        raise ReadError(
            f"{path.name}: holds {problem}, which a track never needs; not read. Export the track again as GPX 1.1."
        ) from None
    except ElementTree.ParseError as problem:
        row = problem.position[0] if getattr(problem, "position", None) else 1
        what = (
            "is cut off"
            if "no element" in str(problem) or "unclosed" in str(problem)
            else "is not well formed"
        )
        raise ReadError(
            f"{path.name}:{row}: {what} ({str(problem).partition(':')[0]}). Export or copy the track again."
        ) from None
    except (LookupError, ValueError) as problem:  # encodings that the parser does not know
        raise ReadError(f"{path.name}: its encoding is not known ({problem}). Save it as UTF-8.") from None
    counts = points.counts
    if not points.rows:
        why = ", ".join(f"{counts[name]} {name}" for name in _LEFT_OUT if counts[name])
        raise ReadError(
            f"{path.name}: no track point with a place and a time ({counts['points']} track points"
            f"{': ' + why if why else ''}; {counts['others']} way points and route points, which are not used)."
            " Export the track with times."
        )
    notes = [f"{counts[name]} track points {name}, left out" for name in _LEFT_OUT if counts[name]]
    if counts["others"]:
        notes.append(f"{counts['others']} way points and route points passed over")
    if counts["zoneless"]:
        notes.append(f"{counts['zoneless']} times without a zone, taken as UTC")
    return make_track(path.name, "degrees", points.rows, True, notes)


def _number(text: str) -> float:
    text = text.strip()
    return float(text) if len(text) <= 60 and _NUMBER.fullmatch(text) else math.nan
