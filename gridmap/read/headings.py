"""What a heading means: names of columns and arrays, in the words and abbreviations in common use."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Meaning = Literal["time", "x", "y", "number", "utc_s"]

_WORDS: dict[str, Meaning] = {
    **dict.fromkeys(("time", "times", "t", "twt", "twtt", "tw time", "two way time", "travel time"), "time"),
    **dict.fromkeys(("sample time", "sample times", "two way travel time"), "time"),
    **dict.fromkeys(("x", "easting", "east"), "x"),
    **dict.fromkeys(("y", "northing", "north"), "y"),
    **dict.fromkeys(("trace", "trace number", "traceno", "trigger", "number"), "number"),
    **dict.fromkeys(("utc", "unix", "unix time", "epoch"), "utc_s"),
}
_UNITS = {
    **dict.fromkeys(("ps", "picosecond", "picoseconds"), "ps"),
    **dict.fromkeys(("ns", "nanosecond", "nanoseconds", "nsec"), "ns"),
    **dict.fromkeys(("us", "µs", "μs", "microsecond", "microseconds", "usec"), "us"),
    **dict.fromkeys(("ms", "millisecond", "milliseconds", "msec"), "ms"),
    **dict.fromkeys(("s", "sec", "second", "seconds"), "s"),
}


@dataclass(frozen=True, slots=True)
class Heading:
    """What a name stands for, and the time unit it carries, if any."""

    meaning: Meaning | None
    unit: str | None = None


def time_unit(text: str) -> str | None:
    """Read a time unit, such as "ns" or "nanoseconds", to ps, ns, us, ms or s; None if it is none."""
    return _UNITS.get(text.strip().lower())


def heading(text: str) -> Heading:
    """Read a heading such as `time_ns`, `TWT [ns]`, `x_m`, `Easting (m)`, `trace`."""
    words = re.split(r"[\s_\-()\[\]/.,:]+", text.strip().strip("\"'").lower()[:80])
    words = [word for word in words if word]
    for size in range(len(words), 0, -1):
        meaning = _WORDS.get(" ".join(words[:size]))
        if meaning is None:
            continue
        rest = words[size:]
        if meaning == "time" and rest and len(rest) == 1:
            unit = time_unit(rest[0])
            return Heading(meaning, unit) if unit else Heading(None)
        if meaning in ("x", "y") and rest not in ([], ["m"]):
            return Heading(None)
        if meaning == "utc_s" and rest not in ([], ["s"]):
            return Heading(None)
        return Heading(meaning) if meaning != "time" or not rest else Heading(None)
    return Heading(None, time_unit(words[0]) if len(words) == 1 else None)
