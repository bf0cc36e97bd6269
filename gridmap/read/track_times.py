"""Clock times of a track: to seconds, over midnight, with the date where one is known; then one fix a time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

import numpy as np

from gridmap.model import Float64, Int64
from gridmap.model.track import Frame, Track

DAY_S = 86400.0
LATE_S = 3600.0
"""A clock time that lies further back than this is the next day; nearer, a sentence out of order."""
STRAY_S = 60.0
"""A sentence that comes this late after midnight is still of the day before."""

QUALITY_RANK = {4: 0, 3: 1, 5: 2, 2: 3, 1: 4, -1: 5, 6: 6, 7: 7, 8: 8}
"""Best first: of two fixes at one time the better is kept."""

_ISO = re.compile(
    r"([+-]?\d{4})-(\d\d)-(\d\d)[T ](\d\d):(\d\d):(\d\d)([.,]\d{1,12})?\s*(Z|UTC|[+-]\d\d:?\d\d)?",
    re.IGNORECASE,
)


def days_since_1970(year: int, month: int, day: int) -> int | None:
    """Return whole days from 1970-01-01, or None where there is no such day."""
    try:
        return date(year, month, day).toordinal() - 719163
    except ValueError:
        return None


def iso_seconds(text: str) -> tuple[float, bool] | None:
    """Read a date and time as ISO 8601 and XML Schema `dateTime` write it.

    Returns
    -------
    (float, bool) or None
        UTC seconds since 1970-01-01, and whether a zone was written (else UTC is assumed); None where the
        text is no such time.
    """
    match = _ISO.fullmatch(text.strip())
    if match is None:
        return None
    year, month, day, hour, minute, second = (int(part) for part in match.groups()[:6])
    days = days_since_1970(year, month, day) if 1970 <= year <= 2100 else None
    if days is None or hour > 23 or minute > 59 or second > 60:
        return None
    part = float("0." + match.group(7)[1:]) if match.group(7) else 0.0
    zone = (match.group(8) or "").upper()
    shift = 0
    if zone not in ("", "Z", "UTC"):
        hours, minutes = int(zone[1:3]), int(zone[-2:])
        if hours > 14 or minutes > 59:
            return None
        shift = (1 if zone[0] == "+" else -1) * (60 * hours + minutes) * 60
    return days * DAY_S + hour * 3600 + minute * 60 + second + part - shift, bool(zone)


def unwrap(of_day_s: Sequence[float], day: Sequence[int | None]) -> tuple[Float64, bool, int]:
    """Make times of day into one clock that runs on over midnight.

    Parameters
    ----------
    of_day_s : sequence of float
        Seconds since midnight in the order of the file.
    day : sequence of int or None
        Days since 1970-01-01 where a sentence of that time says them.

    Returns
    -------
    time_s : (time,) float64
        Seconds since 1970 where any day is known, else since the midnight before the first time.
    dated : bool
        Whether any day is known.
    midnights : int
        How often the clock leapt to a new day.
    """
    known = [index for index, value in enumerate(day) if value is not None]
    first = day[known[0]] if known else 0
    assert first is not None
    if (
        known
    ):  # backward from the first day known: an earlier time that is later in the day is of the day before
        after = of_day_s[known[0]]
        for index in range(known[0] - 1, -1, -1):
            first -= of_day_s[index] > after + LATE_S
            after = of_day_s[index]
    out = np.empty(len(of_day_s))
    today, clock, midnights = first, -np.inf, 0
    for index, seconds in enumerate(of_day_s):
        stated = day[index]
        if stated is not None:
            midnights += stated > today
            today = stated
        elif today * DAY_S + seconds < clock - LATE_S:
            today += 1
            midnights += 1
        out[index] = today * DAY_S + seconds
        if stated is None and 0 <= clock - (out[index] - DAY_S) < STRAY_S:
            out[index] -= DAY_S  # out of order, from just before midnight
        else:
            clock = out[index]
    return out, bool(known), midnights


def make_track(
    source: str,
    frame: Frame,
    rows: Sequence[tuple[float, float, float, float, float, int, float, float, float]],
    dated: bool,
    notes: Sequence[str],
) -> Track:
    """Put fixes in the order of time and keep one a time.

    Parameters
    ----------
    source : str
        The file.
    frame : "degrees", "map" or "local"
        What the two numbers of a place are.
    rows : sequence of tuple
        Time (s), place (2), height (m), geoid (m), quality, standard deviation east, north, up (m).
    dated : bool
        Whether times are since 1970.
    notes : sequence of str
        What has been said already.

    Returns
    -------
    Track
        With a note where fixes were out of order or shared a time.
    """
    table = np.array([[float(value) for value in row] for row in rows], dtype=np.float64).reshape(-1, 9)
    quality = table[:, 5].astype(np.int64)
    said = list(notes)
    back = int((np.diff(table[:, 0]) < 0).sum())
    if back:
        said.append(f"{back} fix{'es' * (back > 1)} out of the order of time, put in order")
    rank = np.array([QUALITY_RANK.get(int(code), 9) for code in quality])
    order = np.lexsort((np.arange(len(table)), rank, table[:, 0]))
    table = table[order]
    keep = np.concatenate([[True], np.diff(table[:, 0]) > 0]) if len(table) else np.zeros(0, bool)
    double = int((~keep).sum())
    if double:
        said.append(f"{double} fix{'es' * (double > 1)} at a time that another has too; the better was kept")
    table = table[keep]
    codes: Int64 = table[:, 5].astype(np.int64)
    return Track(
        time_s=table[:, 0].copy(),
        dated=dated,
        frame=frame,
        place=table[:, 1:3].copy(),
        height_m=table[:, 3].copy(),
        geoid_m=table[:, 4].copy(),
        quality=codes,
        sd_m=table[:, 6:9].copy(),
        source=source,
        notes=tuple(said),
    )
