"""A first site file for a folder of lines: what the files say filled in, what only people know marked."""

from __future__ import annotations

import fnmatch
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby, pairwise
from pathlib import PurePosixPath
from statistics import median

from gridmap.errors import SiteError
from gridmap.site.keys import PLACEHOLDER
from gridmap.site.rules import natural_key, number_gap
from gridmap.site.writing import flat, quoted, row

_TRACE_EXAMPLE_M = 0.05
_ODD_SHARE = 0.15


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What one data file says of itself.

    Attributes
    ----------
    file : str
        Path below the survey's folder, with / between folders.
    traces, samples : int
        Count of traces and of samples a trace.
    sample_interval_ns : float or None
        As the file says, nanoseconds; None where it does not say.
    note : str
        What the reader assumed in reading it, one sentence; may be empty.
    first_time_s, last_time_s : float or None
        UTC seconds since 1970-01-01 of the first and the last trace.
    header_bounds : (float, float, float, float) or None
        Least x, least y, largest x, largest y in the trace headers, in whatever unit they hold.
    """

    file: str
    traces: int
    samples: int
    sample_interval_ns: float | None = None
    note: str = ""
    first_time_s: float | None = None
    last_time_s: float | None = None
    header_bounds: tuple[float, float, float, float] | None = None


def site_template(facts: Sequence[FileFacts], name: str) -> str:
    """Write a commented site file for a surveyor to complete.

    Parameters
    ----------
    facts : sequence of FileFacts
        One a data file, in any order.
    name : str
        Name of the site, such as the folder's name.

    Returns
    -------
    str
        TOML text. Values that only the surveyor knows are "FILL IN", which `load_site` refuses with
        the rows where they stand; files that are numbered alike share one [[lines]] rule.

    Raises
    ------
    SiteError
        Where there are no files.
    """
    if not facts:
        raise SiteError(
            f"{flat(name)}: no data files to write a site file for. Give the folder that holds the lines."
        )
    ordered = sorted(facts, key=lambda fact: natural_key(fact.file))
    parts = [_head(ordered, name), _GROUND, _record(ordered)]
    for group in _groups(ordered):
        pattern = _pattern(group, ordered)
        parts.append(_rule(group, pattern) if pattern else "\n".join(_single(fact) for fact in group))
    return "\n".join(parts)


_SITE = """\
# All lengths are in metres. x runs along the baseline; y runs across it, to the left of x.

[site]
name = {name}
# description = "One sentence for the report."
# size_m = [20.0, 10.0]   # width along x, length along y; lines outside are warned about
# crs = "EPSG:25832"      # map system of the control points; leave out for a map in grid metres

# Control points tie the grid to the map: two at least, better four at the corners; they need crs.
# Take the # away, and repeat the four rows for each peg.
# [[control]]
# name = "A"
# local_m = [0, 0]                    # x, y in the grid
# map_m = [563412.364, 5934120.852]   # easting, then northing

[antenna]
"""

_GROUND = """\
# The ground: leave this out to find the velocity from the data.
# [ground]
# velocity_m_per_ns = 0.09        # where it was measured on the site
# velocity_sd_m_per_ns = 0.005    # one standard deviation
"""


def _ask(key: str, note: str) -> str:
    return row(key, f'"{PLACEHOLDER}"', note)


def _head(facts: Sequence[FileFacts], name: str) -> str:
    return "\n".join(
        [
            f"# Site file, written from {len(facts)} data file{'s' * (len(facts) > 1)}.",
            (
                f'# Replace each "{PLACEHOLDER}" by the value from the field book. Rows that begin with # are'
                " notes."
            ),
            *_days(facts),
            _SITE.format(name=quoted(name)) + _ask("frequency_mhz", "nominal centre frequency, such as 400"),
            _ask("separation_m", "transmitter to receiver, such as 0.15"),
            row("height_m", "0.0", "height of the antennas above the ground"),
            "",
        ]
    )


def _record(facts: Sequence[FileFacts]) -> str:
    rows = ["[record]"]
    intervals = sorted({round(f.sample_interval_ns, 9) for f in facts if f.sample_interval_ns is not None})
    silent = [f.file for f in facts if f.sample_interval_ns is None]
    notes = sorted({flat(fact.note) for fact in facts if fact.note.strip()})
    rows += [f"# The files: {note}" for note in notes[:4]]
    if len(intervals) == 1 and not silent:
        samples = median(fact.samples for fact in facts)
        rows += [
            (
                f"# {samples:g} samples of {intervals[0]:.9g} ns are a record of"
                f" {intervals[0] * samples:.6g} ns."
            ),
            "# Compare the field book; take the # away to overrule what the files say.",
            f"# sample_interval_ns = {intervals[0]:.9g}",
        ]
        return "\n".join(rows) + "\n"
    if len(intervals) > 1:
        some = ", ".join(f"{value:.9g}" for value in intervals[:6])
        rows.append(f"# The files disagree on the sample interval: {some} ns.")
    if silent:
        rows.append(f"# {len(silent)} of {len(facts)} files do not say it, such as {flat(silent[0])}.")
    rows.append(_ask("sample_interval_ns", "nanoseconds, such as 0.2"))
    return "\n".join(rows) + "\n"


def _rule(group: Sequence[FileFacts], pattern: str) -> str:
    first, last = PurePosixPath(group[0].file).name, PurePosixPath(group[-1].file).name
    along = _axis(group)
    step = "+x" if along == "y" else "+y"
    how_many = "how many lines; one file too few would shift all later lines"
    uneven = _gap(group) is not None
    return "\n".join(
        [
            f"# {len(group)} lines, {flat(first)} to {flat(last)}: {_lengths(group)}.",
            *_oddities(group),
            "[[lines]]",
            f"files = {quoted(pattern)}",
            _ask("count", how_many) if uneven else row("count", f"{len(group)}", how_many),
            _ask("first_start_m", "x, y of the first line's first peg as walked, such as [0, 0]"),
            _ask("direction", f'which way the first line was walked, such as "+{along}"'),
            _ask("length_m", "taped length of each line, peg to peg"),
            _ask("spacing_m", "from one line to the next, such as 0.25"),
            _ask("toward", f'on which side the next line lies, such as "{step}"'),
            _ask("zigzag", "true: every second line walked back; false: all the same way"),
            "# Lines that differ need a [[line]] each, with file, start_m and end_m, outside the pattern.",
            "",
        ]
    )


def _single(fact: FileFacts) -> str:
    return "\n".join(
        [
            f"# {flat(PurePosixPath(fact.file).name)}: {_lengths([fact])}.",
            *_oddities([fact]),
            "[[line]]",
            f"file = {quoted(fact.file)}",
            _ask("start_m", "x, y of the first peg in the order walked, such as [0, 0]"),
            _ask("end_m", "x, y of the last peg, such as [0, 8.0]"),
            "",
        ]
    )


def _parts(file: str) -> tuple[str, str, str, str]:
    """Split a path at the last number of its stem: folder, what stands before, what stands after, suffix."""
    path = PurePosixPath(file)
    found = re.fullmatch(r"(.*?)\d+(\D*)", path.stem)
    before, after = found.groups() if found else (path.stem, "")
    return path.parent.as_posix(), before, after, path.suffix


def _groups(ordered: Sequence[FileFacts]) -> list[list[FileFacts]]:
    together = sorted(ordered, key=lambda fact: (_parts(fact.file), natural_key(fact.file)))
    return [list(members) for _, members in groupby(together, lambda fact: _parts(fact.file))]


def _pattern(group: Sequence[FileFacts], everything: Sequence[FileFacts]) -> str | None:
    """Return a pattern that matches the files of the group and no other; None where there is none."""
    folder, before, after, suffix = _parts(group[0].file)
    if len(group) < 2 or any(mark in folder + before + after + suffix for mark in "*?[]\\"):
        return None
    wanted = {fact.file for fact in group}
    spare = len(before) + len(after)
    widths = {len(PurePosixPath(fact.file).stem) - spare for fact in group}
    for middle in ("*", "[0-9]*", "[0-9]" * min(widths)):
        pattern = (PurePosixPath(folder) / f"{before}{middle}{after}{suffix}").as_posix()
        if {fact.file for fact in everything if _matches(fact.file, pattern)} == wanted:
            return pattern
    return None


def _matches(file: str, pattern: str) -> bool:
    return file.count("/") == pattern.count("/") and fnmatch.fnmatchcase(file, pattern)


def _axis(group: Sequence[FileFacts]) -> str:
    return "x" if PurePosixPath(group[0].file).stem[:1].lower() == "x" else "y"


def _lengths(group: Sequence[FileFacts]) -> str:
    traces = sorted(fact.traces for fact in group)
    middle = median(traces)
    many = f"{traces[0]}" if traces[0] == traces[-1] else f"{traces[0]} to {traces[-1]}"
    return f"{many} traces (at {_TRACE_EXAMPLE_M:g} m a trace, {(middle - 1) * _TRACE_EXAMPLE_M:.1f} m)"


def _oddities(group: Sequence[FileFacts]) -> list[str]:
    middle = median(fact.traces for fact in group)
    odd = [fact for fact in group if abs(fact.traces - middle) > _ODD_SHARE * middle]
    rows = [
        f"# Look: {flat(fact.file)} has {fact.traces} traces, the others about {middle:g}."
        for fact in odd[:6]
    ]
    if len(odd) > 6:
        rows.append(f"# Look: {len(odd) - 6} more lines differ in length as much.")
    gap = _gap(group)
    if gap is not None:
        before, after = group[max(gap - 1, 0)].file, group[max(gap, 1)].file
        rows.append(
            f"# Look: the numbers are uneven between {flat(before)} and {flat(after)}: is a line missing?"
        )
    for one, other in pairwise(group):
        if (
            one.first_time_s is not None
            and other.first_time_s is not None
            and other.first_time_s < one.first_time_s
        ):
            rows.append(
                f"# Look: {flat(other.file)} was recorded before {flat(one.file)}: is the order right?"
            )
            break
    bounds = [fact.header_bounds for fact in group if fact.header_bounds is not None]
    if bounds:
        west, south = min(b[0] for b in bounds), min(b[1] for b in bounds)
        east, north = max(b[2] for b in bounds), max(b[3] for b in bounds)
        rows.append(
            f"# The headers hold co-ordinates, {west:.2f} to {east:.2f} and {south:.2f} to {north:.2f}; "
            "lines are placed by their pegs."
        )
    return rows


def _gap(group: Sequence[FileFacts]) -> int | None:
    return number_gap([PurePosixPath(fact.file).stem for fact in group])


def _days(facts: Sequence[FileFacts]) -> list[str]:
    times = [t for fact in facts for t in (fact.first_time_s, fact.last_time_s) if t is not None]
    try:
        ends = [datetime.fromtimestamp(t, UTC) for t in (min(times), max(times))] if times else []
    except (ValueError, OverflowError, OSError):
        ends = []
    return (
        [f"# Recorded from {ends[0]:%Y-%m-%d %H:%M} to {ends[1]:%Y-%m-%d %H:%M} UTC by the files."]
        if ends
        else []
    )
