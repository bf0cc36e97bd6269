"""Read a track of NMEA 0183 sentences: GGA, RMC, GST and ZDA, every checksum verified."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import xor
from pathlib import Path

from gridmap.errors import ReadError
from gridmap.model.track import Track
from gridmap.read.track_times import days_since_1970, make_track, unwrap
from gridmap.read.whole import decode_plain, read_whole

TYPES = ("GGA", "RMC", "GST", "ZDA")
"""Sentences that are used; all others are passed over."""

_SENTENCE = re.compile(rb"\$([\x20-\x23\x25-\x29\x2b-\x7e]{6,250})\*([0-9A-Fa-f]{2})")
_BEGUN = re.compile(rb"\$[A-Z]{2}(?:GGA|RMC|GST|ZDA),")
_NUMBER = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d{0,15})?|\.\d{1,15})")
_CLOCK = re.compile(r"(\d\d)(\d\d)(\d\d(?:\.\d{0,12})?)")
_ANGLE = re.compile(r"(\d{1,3})(\d\d(?:\.\d{0,15})?)")
_MODES = {"A": 1, "D": 2, "P": 3, "R": 4, "F": 5, "E": 6, "M": 7, "S": 8}
_NO_SD = (math.nan, math.nan, math.nan)


class _OddSentenceError(ValueError):
    """A sentence with a right checksum whose fields cannot be right."""


class _NoFixError(ValueError):
    """A sentence that says that there is no fix; its clock and date are not to be trusted either."""


@dataclass(frozen=True, slots=True)
class _Entry:
    """What one sentence says: clock, and day, fix or deviations where it has them."""

    kind: str
    of_day_s: float
    day: int | None = None
    fix: tuple[float, float, float, float, int] | None = None
    sd_m: tuple[float, float, float] | None = None


def looks_like_nmea(head: bytes) -> bool:
    """Say whether the first bytes of a file hold the start of a sentence that is used."""
    return _BEGUN.search(head.replace(b"\x00", b"")) is not None


def checksum(body: bytes) -> int:
    """Return the exclusive or of all bytes between $ and * (NMEA 0183)."""
    return reduce(xor, body, 0)


def read_nmea(path: Path | str) -> Track:
    """Read a log of NMEA 0183 sentences.

    Parameters
    ----------
    path : Path
        The log, in ASCII or whatever holds it, or UTF-16 with its mark. Lines of other kinds, and junk before a
        sentence, are passed over and counted.

    Returns
    -------
    Track
        In degrees. Fixes come from GGA, or from RMC where the log has no GGA with a fix; days from RMC or
        ZDA; standard deviations from GST of the same time. Without a day, times are seconds since the
        midnight before the first fix. Notes count every sentence that was left out, and why.

    Raises
    ------
    ReadError
        If the file cannot be read or holds no fix; the message counts what it does hold.

    Notes
    -----
    Field order as in the open field lists of NMEA 0183 (GGA, RMC, GST, ZDA); two-digit years 80 to 99 are
    of the twentieth century. A sentence without a checksum cannot be verified and is left out.
    """
    path = Path(path)
    raw = read_whole(path)
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):  # saved as UTF-16 by an editor; sentences are plain ASCII
        raw = decode_plain(raw, path.name)[0].encode("ascii", "replace")
    counts: Counter[str] = Counter()
    entries = list(_entries(raw, counts))
    if not raw.strip():
        raise ReadError(f"{path.name}: the track is empty. Copy it again from the recorder.")
    fixes = "GGA" if any(e.kind == "GGA" and e.fix for e in entries) else "RMC"
    if not any(e.kind == fixes and e.fix for e in entries):
        held = (
            ", ".join(f"{counts[name]} {name}" for name in (*TYPES, *_LEFT_OUT) if counts[name])
            or "no sentence"
        )
        raise ReadError(
            f"{path.name}: no position in it ({held}). Give a log of GGA or RMC sentences with a fix and with"
            " checksums."
        )
    days = _days(entries)
    time_s, dated, midnights = unwrap([e.of_day_s for e in entries], days)
    sd = {round(t, 3): e.sd_m for t, e in zip(time_s, entries, strict=True) if e.sd_m}
    rows = [
        (float(t), *e.fix[:4], e.fix[4], *sd.get(round(float(t), 3), _NO_SD))
        for t, e in zip(time_s, entries, strict=True)
        if e.kind == fixes and e.fix
    ]
    notes = [f"fixes from {fixes}" + (" with standard deviations from GST" if sd else "")]
    notes += [f"{counts[name]} {name}, left out" for name in _LEFT_OUT if counts[name]]
    if counts["other"]:
        notes.append(f"{counts['other']} sentences of other kinds passed over")
    if midnights:
        notes.append(f"the clock passes midnight {midnights} time{'s' * (midnights > 1)}")
    if not dated:
        notes.append("no date in it (RMC or ZDA); the day is taken from the line files")
    return make_track(path.name, "degrees", rows, dated, notes)


_LEFT_OUT = (
    "sentences with a wrong checksum",
    "sentences without a checksum",
    "sentences without a fix",
    "sentences not understood",
    "lines that are no sentence",
)


def _entries(raw: bytes, counts: Counter[str]) -> Iterator[_Entry]:
    """Go through the log line by line; count what is left out."""
    for line in re.finditer(rb"[^\r\n]+", raw):
        text = line.group()
        found = False
        end = 0
        for match in _SENTENCE.finditer(text):
            found = True
            if _BEGUN.search(text, end, match.start()):
                counts["sentences without a checksum"] += 1
            end = match.end()
            body = match.group(1)
            if checksum(body) != int(match.group(2), 16):
                counts["sentences with a wrong checksum"] += 1
                continue
            fields = body.decode("ascii").split(",")
            kind = fields[0][2:]
            if len(fields[0]) != 5 or kind not in TYPES or fields[0][0] == "P":
                counts["other"] += 1
                continue
            counts[kind] += 1
            try:
                yield _PARSERS[kind](fields)
            except _NoFixError:
                counts["sentences without a fix"] += 1
            except _OddSentenceError:
                counts["sentences not understood"] += 1
        if _BEGUN.search(text, end):
            counts["sentences without a checksum"] += 1
        elif not found and text.strip():
            counts["lines that are no sentence"] += 1


def _days(entries: Sequence[_Entry]) -> list[int | None]:
    """Give each entry the day that a sentence of the same clock time beside it states."""
    days = [e.day for e in entries]
    for step in (1, -1):
        last: tuple[float, int] | None = None
        for i in range(len(entries))[::step]:
            own = entries[i].day
            if own is not None:
                last = entries[i].of_day_s, own
            elif last is not None and last[0] == entries[i].of_day_s and days[i] is None:
                days[i] = last[1]
            else:
                last = None
    return days


def _gga(fields: Sequence[str]) -> _Entry:
    _need(fields, 10)
    if not fields[1] or not fields[2] or not fields[4] or fields[6] in ("", "0"):
        raise _NoFixError
    if not re.fullmatch(r"\d{1,2}", fields[6]):
        raise _OddSentenceError
    height, geoid = _metres(fields, 9), _metres(fields, 11)
    fix = (*_place(fields, 2), height, geoid, int(fields[6]))
    return _Entry("GGA", _clock(fields[1]), fix=fix)


def _rmc(fields: Sequence[str]) -> _Entry:
    _need(fields, 10)
    mode = fields[12] if len(fields) > 12 else ""
    if fields[2] != "A" or not fields[1] or not fields[3] or not fields[5] or mode == "N":
        raise _NoFixError
    day = _day(fields[9]) if fields[9] else None
    fix = (*_place(fields, 3), math.nan, math.nan, _MODES.get(mode, 1))
    return _Entry("RMC", _clock(fields[1]), day, fix)


def _gst(fields: Sequence[str]) -> _Entry:
    _need(fields, 9)
    if not fields[1]:
        raise _NoFixError
    north, east, up = (_number(text) if text else math.nan for text in fields[6:9])
    if min((v for v in (north, east, up) if not math.isnan(v)), default=0.0) < 0:
        raise _OddSentenceError
    return _Entry("GST", _clock(fields[1]), sd_m=(east, north, up))


def _zda(fields: Sequence[str]) -> _Entry:
    _need(fields, 5)
    if not fields[1] or not fields[4]:
        raise _NoFixError
    if not re.fullmatch(r"\d{4}", fields[4]):
        raise _OddSentenceError
    return _Entry("ZDA", _clock(fields[1]), _day(fields[2] + fields[3] + fields[4]))


_PARSERS = {"GGA": _gga, "RMC": _rmc, "GST": _gst, "ZDA": _zda}


def _need(fields: Sequence[str], least: int) -> None:
    if len(fields) < least:
        raise _OddSentenceError


def _number(text: str) -> float:
    if not _NUMBER.fullmatch(text):
        raise _OddSentenceError
    return float(text)


def _metres(fields: Sequence[str], index: int) -> float:
    if len(fields) <= index or not fields[index]:
        return math.nan
    if len(fields) > index + 1 and fields[index + 1] not in ("", "M"):
        raise _OddSentenceError
    return _number(fields[index])


def _clock(text: str) -> float:
    """Seconds since midnight of hhmmss.ss; 60 is taken for a leap second."""
    match = _CLOCK.fullmatch(text)
    if match is None:
        raise _OddSentenceError
    hour, minute, second = int(match.group(1)), int(match.group(2)), float(match.group(3))
    if hour > 23 or minute > 59 or second >= 61:
        raise _OddSentenceError
    return hour * 3600.0 + minute * 60.0 + second


def _day(text: str) -> int:
    """Days since 1970-01-01 of ddmmyy or ddmmyyyy."""
    if not re.fullmatch(r"\d{6}|\d{8}", text):
        raise _OddSentenceError
    year = int(text[4:])
    if len(text) == 6:
        year += 1900 if year >= 80 else 2000
    days = days_since_1970(year, int(text[2:4]), int(text[:2])) if 1970 <= year <= 2100 else None
    if days is None:
        raise _OddSentenceError
    return days


def _place(fields: Sequence[str], index: int) -> tuple[float, float]:
    """Longitude and latitude, degrees, of (d)ddmm.mmm with N, S, E or W."""
    latitude = _angle(fields[index], fields[index + 1], "NS", 90.0)
    longitude = _angle(fields[index + 2], fields[index + 3], "EW", 180.0)
    return longitude, latitude


def _angle(text: str, side: str, sides: str, limit: float) -> float:
    match = _ANGLE.fullmatch(text)
    if match is None or len(side) != 1 or side not in sides:
        raise _OddSentenceError
    minutes = float(match.group(2))
    angle = int(match.group(1)) + minutes / 60.0
    if minutes >= 60.0 or angle > limit:
        raise _OddSentenceError
    return -angle if side == sides[1] else angle
