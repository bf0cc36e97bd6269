"""From [[swaths]] tables to lines: the channels of an array, side by side, pass after pass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from gridmap.site.keys import Table
from gridmap.site.paths import find_pattern
from gridmap.site.pegs import SHORTEST_M, check_name, read_block, read_far_end, read_peg, read_step
from gridmap.site.placing import NOWHERE
from gridmap.site.records import LinePlan
from gridmap.site.rules import Point, in_block, last_number, off_line_m, write_out

_MOST_CHANNELS = 256


def read_swaths(table: Table, root: Path, first_swath: int) -> list[LinePlan]:
    """Return the plan of every channel of every swath of a [[swaths]] table.

    Parameters
    ----------
    table : Table
        The table.
    root : Path
        Folder that data paths start in, absolute.
    first_swath : int
        Number of its first swath in the survey.

    Returns
    -------
    list of LinePlan
        All channels of the first swath, then of the next.

    Raises
    ------
    SiteError
        For files that do not make whole swaths, or keys that cannot be right.
    """
    table.need("files", 'Name the files, one a channel, by a pattern, such as files = "lines/S*_C*.sgy".')
    table.need("channels", "Write how many channels the array has, such as channels = 16.")
    table.need("channel_spacing_m", "Write the distance between neighbouring channels, metres.")
    files = find_pattern(table, "files", root)
    fix = f"Write a whole number of channels, 1 to {_MOST_CHANNELS}."
    channels = round(table.number("channels", low=1, high=_MOST_CHANNELS, fix=fix))
    in_turn = "channels_in" in table and table.choice("channels_in", ("files", "turn")) == "turn"
    if not in_turn:
        _check_swaths(table, files, channels)
    spacing_m = table.number(
        "channel_spacing_m", low=0, high=10, above=True, fix="Write metres, such as channel_spacing_m = 0.08."
    )
    left_first = "first_channel" not in table or table.choice("first_channel", ("left", "right")) == "left"
    prefix = table.string("prefix", fix="Leave the key out instead.", longest=40) if "prefix" in table else ""
    names = [check_name(table, "prefix" if prefix else "files", prefix + path.stem) for path in files]
    if in_turn:
        names = [f"{name}_C{c + 1:02d}" for name in names for c in range(channels)]
        files = [path for path in files for _ in range(channels)]
    aside = [
        round(((channels - 1) / 2 - c) * spacing_m * (1 if left_first else -1), 6) for c in range(channels)
    ]
    swaths = len(files) // channels
    by_track = "positions" in table and table.choice("positions", ("pegs", "track")) == "track"
    pegs = [(NOWHERE, NOWHERE)] * swaths if by_track else _middles(table, swaths)
    plans = []
    for k, (name, path) in enumerate(zip(names, files, strict=True)):
        swath, channel = divmod(k, channels)
        start, end = pegs[swath]
        plans.append(
            LinePlan(
                name, path, *(start, end) if by_track else _beside(start, end, aside[channel]),
                "track" if by_track else "pegs", swath=first_swath + swath, channel=channel,
                channels=channels if in_turn else None, aside_m=aside[channel] if by_track else 0.0,
            )
        )  # fmt: skip
    return plans


def _check_swaths(table: Table, files: Sequence[Path], channels: int) -> None:
    """Raise where files are missing: every swath must have the same channel numbers."""
    if len(files) % channels:
        table.fail(
            "files",
            f"the pattern matches {len(files)} files, which {channels} channels do not divide",
            "Put the missing files back, or write one [[swaths]] table for each run of whole swaths.",
        )
    first = [last_number(path.stem) for path in files[:channels]]
    for k in range(channels, len(files), channels):
        here = [last_number(path.stem) for path in files[k : k + channels]]
        if here != first:
            odd = next(i for i, (a, b) in enumerate(zip(here, first, strict=True)) if a != b)
            table.fail(
                "files",
                f"{files[k + odd].name} stands where channel {first[odd]} of swath {k // channels + 1} should",
                "Name files so that they sort by swath, then by channel, such as S012_C03; find the missing file.",
            )


def _middles(table: Table, swaths: int) -> list[tuple[Point, Point]]:
    """Return where the array's middle began and ended on each swath, in the site's grid."""
    for key in ("step_m", "spacing_m", "toward", "zigzag"):
        if swaths == 1 and key in table:
            table.fail(key, "there is one swath only", "Take it out, or correct the pattern.")
    start = read_peg(
        table, "first_start_m", "Write where the array's middle began, such as first_start_m = [0.6, 0]."
    )
    end = read_far_end(table, start, "first_start_m", "first_end_m")
    step, zigzag = (0.0, 0.0), False
    if swaths > 1:
        step = read_step(table)
        if off_line_m(start, end, step) < SHORTEST_M:
            key = "step_m" if "step_m" in table else "toward"
            table.fail(
                key, "the step runs along the swaths or is 0", "Give the step across, from one to the next."
            )
        table.need("zigzag", "Write zigzag = true if every second swath was driven back, else false.")
        zigzag = table.flag("zigzag", fix="Write zigzag = true or zigzag = false.")
    origin, rotation = read_block(table)
    return [
        (in_block(a, origin, rotation), in_block(b, origin, rotation))
        for a, b in write_out(start, end, step, swaths, zigzag)
    ]


def _beside(start: Point, end: Point, aside_m: float) -> tuple[Point, Point]:
    """Return a way that runs `aside_m` to the left of another, looking ahead."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy)
    left = -dy / length * aside_m, dx / length * aside_m
    return (
        (round(start[0] + left[0], 6), round(start[1] + left[1], 6)),
        (round(end[0] + left[0], 6), round(end[1] + left[1], 6)),
    )
