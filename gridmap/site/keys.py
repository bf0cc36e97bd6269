"""The keys a site file may hold, and the checks on one value; every error names file, table, key and fix."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn

from gridmap.errors import SiteError

KEYS: Mapping[str, tuple[str, ...]] = {
    "site": ("name", "description", "crs", "size_m", "wanted_depth_m", "control_limit_cm"),
    "control": ("name", "local_m", "map_m"),
    "antenna": ("frequency_mhz", "separation_m", "height_m"),
    "ground": ("medium", "velocity_m_per_ns", "velocity_sd_m_per_ns"),
    "tie": ("name", "local_m", "depth_m", "depth_sd_m", "time_ns"),
    "record": ("sample_interval_ns",),
    "text": (
        "delimiter",
        "decimal",
        "encoding",
        "header_rows",
        "traces_in",
        "before_samples",
        "sample_times",
        "time_unit",
    ),
    "arrays": ("amplitude", "traces_in", "time", "time_unit", "x", "y", "number", "utc_s"),
    "track": (
        "file",
        "format",
        "columns",
        "frame",
        "sd_m",
        "time_offset_s",
        "latency_s",
        "lever_arm_m",
        "gap_max_s",
        "min_quality",
    ),
    "stations": ("file", "columns", "frame"),
    "terrain": ("points", "columns", "frame", "dem", "slices"),
    "line": (
        "name",
        "file",
        "start_m",
        "end_m",
        "direction",
        "length_m",
        "positions",
        "nominal_spacing_m",
        "polyline_m",
        "marks",
        "marks_m",
        "mark_traces",
        "mark_every_m",
    ),
    "lines": (
        "files",
        "count",
        "prefix",
        "first_start_m",
        "first_end_m",
        "direction",
        "length_m",
        "step_m",
        "spacing_m",
        "toward",
        "zigzag",
        "origin_m",
        "rotation_deg",
        "positions",
        "nominal_spacing_m",
    ),
    "swaths": (
        "files",
        "prefix",
        "channels",
        "channels_in",
        "channel_spacing_m",
        "first_channel",
        "first_start_m",
        "first_end_m",
        "direction",
        "length_m",
        "step_m",
        "spacing_m",
        "toward",
        "zigzag",
        "origin_m",
        "rotation_deg",
        "positions",
    ),
    "processing": (
        "sample_interval_ns",
        "recipe",
        "band_mhz",
        "dewow_ns",
        "background_m",
        "imaging",
        "interpolation",
        "cell_m",
        "blank_m",
        "depth_max_m",
        "slice_thickness_m",
        "slice_overlap",
        "stake_every_m",
        "air_echoes",
    ),
    "corrections": (
        "wheel",
        "stagger",
        "reversed",
        "swapped",
        "duplicate",
        "along",
        "displaced",
        "level",
        "gains",
    ),
    "report": (
        "company",
        "client",
        "author",
        "contact",
        "reference",
        "surveyed",
        "purpose",
        "conditions",
        "instrument",
        "keywords",
        "rights",
        "archive",
        "date",
    ),
}
"""Every key by table, in the order of the manual."""

REPEATED = ("control", "tie", "line", "lines", "swaths")
"""Tables that stand in double brackets and may come more than once."""

PLACEHOLDER = "FILL IN"
"""What `gridmap new` writes where only the surveyor knows the value."""

DIRECTIONS: Mapping[str, tuple[int, int]] = {"+x": (1, 0), "-x": (-1, 0), "+y": (0, 1), "-y": (0, -1)}
"""Walking directions along the axes of the local grid."""

_UNFILLED = re.compile(rf"""=[^#]*(["']){PLACEHOLDER}\1""")
_HEADER = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_-]+)\s*\]\]?")


def suggestion(word: str, choices: Sequence[str]) -> str:
    """Return " (did you mean X?)" for the nearest choice, or "" where none is near."""
    near = difflib.get_close_matches(word.lower(), choices, n=1, cutoff=0.6)
    return f" (did you mean {near[0]}?)" if near else ""


def unfilled(text: str) -> list[tuple[int, str]]:
    """List what is left to fill in: row (1 is the first) and key of each value that is still the placeholder.

    Parameters
    ----------
    text : str
        The whole site file; notes after # are passed over.

    Returns
    -------
    list of (int, str)
        In the order of the file.
    """
    return [
        (row, line.split("=")[0].strip())
        for row, line in enumerate(text.splitlines(), start=1)
        if not line.lstrip().startswith("#") and _UNFILLED.search(line)
    ]


def row_of(text: str, table: str, index: int = 0, key: str | None = None) -> int | None:
    """Return the row (1 is the first) of a key, or of its table's heading, in the text of a site file.

    Parameters
    ----------
    text : str
        The whole file.
    table : str
        Name of the table.
    index : int
        Which table of that name, from 0.
    key : str or None
        The key looked for; None: the heading itself.

    Returns
    -------
    int or None
        None where no such heading stands on a row of its own.
    """
    heading, seen = None, -1
    for row, line in enumerate(text.splitlines(), start=1):
        match = _HEADER.match(line)
        if match:
            if heading is not None:
                break
            seen += match.group(2) == table
            if match.group(2) == table and seen == index:
                heading = row
        elif heading is not None and key and re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=", line):
            return row
    return heading


def shown(value: object) -> str:
    """Return a value as a site file would write it, cut at 60 characters."""
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, list):
        text = "[" + ", ".join(shown(item) for item in value[:6]) + (", ..." if len(value) > 6 else "") + "]"
    else:
        text = str(value)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 60 else text[:57] + "..."


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a site file, and where it stands.

    Attributes
    ----------
    source : str
        The site file as a message names it.
    text : str
        The whole file, to find rows in.
    name : str
        The table's name, a key of `KEYS`.
    index : int
        Which table of that name, from 0.
    values : mapping
        Key to value, as TOML gives them.
    """

    source: str
    text: str
    name: str
    index: int
    values: Mapping[str, object]

    @property
    def label(self) -> str:
        """The table as a message names it, such as [antenna] or [[line]] 3."""
        return f"[[{self.name}]] {self.index + 1}" if self.name in REPEATED else f"[{self.name}]"

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def where(self, key: str | None = None) -> str:
        """Return file, row and table for a message."""
        row = row_of(self.text, self.name, self.index, key)
        return f"{self.source}:{row}: {self.label}" if row else f"{self.source}: {self.label}"

    def fail(self, key: str, what: str, fix: str) -> NoReturn:
        """Raise a SiteError that names the key, its value, what is wrong and the fix."""
        value = f" = {shown(self.values[key])}" if key in self.values else ""
        raise SiteError(f"{self.where(key)}: {key}{value}: {what}. {fix}")

    def check_keys(self) -> None:
        """Raise SiteError for the first key that this table does not have, with the nearest that it has."""
        allowed = KEYS[self.name]
        for key in self.values:
            if key in allowed:
                continue
            homes = [table for table, keys in KEYS.items() if key in keys]
            hint = suggestion(key, allowed)
            if homes and not hint:
                shape = [f"[[{home}]]" if home in REPEATED else f"[{home}]" for home in homes]
                hint = f" (it belongs in {' or '.join(shape)})"
            raise SiteError(
                f"{self.where(key)}: there is no key {shown(key)}{hint}. The keys here are"
                f" {', '.join(allowed)}."
            )

    def need(self, key: str, fix: str) -> None:
        """Raise SiteError where a key that must be there is not."""
        if key not in self.values:
            raise SiteError(f"{self.where()}: {key} is missing. {fix}")

    def string(self, key: str, *, fix: str, longest: int = 400) -> str:
        """Return a text value on one row, without space around it."""
        value = self.values[key]
        if not isinstance(value, str):
            self.fail(key, "text is expected", f'Write it in quotes, such as {key} = "...". {fix}'.strip())
        value = value.strip()
        if not value:
            self.fail(key, "the text is empty", fix)
        if not value.isprintable():
            self.fail(
                key, "the text holds a row end, a tab or a control character", "Keep it to one plain row."
            )
        if len(value) > longest:
            self.fail(key, f"the text has {len(value)} characters", f"Keep it to {longest}.")
        return value

    def number(
        self, key: str, *, fix: str, low: float, high: float, above: bool = False, below: bool = False
    ) -> float:
        """Return a finite number from `low` to `high`; `above`, `below`: the limit itself is left out."""
        value = self._number(key, self.values[key], fix)
        if value < low or value > high or (above and value == low) or (below and value == high):
            bounds = f"{'above' if above else 'from'} {low:g} {'to below' if below else 'to'} {high:g}"
            self.fail(key, f"a number {bounds} is expected", fix)
        return value

    def pair(self, key: str, *, fix: str) -> tuple[float, float]:
        """Return two finite numbers written as [first, second]."""
        value = self.values[key]
        if not isinstance(value, list) or len(value) != 2:
            self.fail(key, "two numbers in square brackets are expected, with a comma between", fix)
        return self._number(key, value[0], fix), self._number(key, value[1], fix)

    def flag(self, key: str, *, fix: str) -> bool:
        """Return true or false, written without quotes."""
        value = self.values[key]
        if not isinstance(value, bool):
            self.fail(key, "true or false is expected, in small letters and without quotes", fix)
        return value

    def choice(self, key: str, choices: Sequence[str]) -> str:
        """Return one of a few words."""
        value = self.string(key, fix=f"Write one of {', '.join(choices)}.")
        if value not in choices:
            self.fail(
                key,
                f"not a choice{suggestion(value, choices) if len(value) > 1 else ''}",
                f"Write one of {', '.join(choices)}.",
            )
        return value

    def _number(self, key: str, value: object, fix: str) -> float:
        if isinstance(value, str):
            self.fail(
                key,
                "a number is expected, not text",
                f"Write it without quotes and with a decimal point. {fix}",
            )
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fail(key, "a number is expected", fix)
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            self.fail(key, "a finite number is expected", fix)
        return number
