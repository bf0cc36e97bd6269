"""Files that a rule of numbered lines lacks: named, so that a check can say which, instead of an error."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from gridmap.site.rules import last_number

_MOST = 500


def with_absent(files: Sequence[Path], count: int | None) -> list[Path]:
    """Put the files back into a row of numbered files that are not there.

    Parameters
    ----------
    files : sequence of Path
        In natural order, at least one.
    count : int or None
        How many there should be; None: as many as leave no gap in the numbers.

    Returns
    -------
    list of Path
        With paths of files that do not exist where a number of an evenly numbered row is lacking; where fewer than
        `count` are known then, the row goes on at its end. The files as given where they have no numbers, or more are
        there than `count`.
    """
    numbers = [last_number(path.stem) for path in files]
    known = [n for n in numbers if n is not None]
    if len(known) < len(files) or len(known) < 2 or (count is not None and len(files) >= count):
        return list(files)
    steps = [b - a for a, b in pairwise(known)]
    step = max(set(steps), key=lambda s: (steps.count(s), -abs(s)))
    span = known[-1] - known[0]
    if step <= 0 or span % step or span // step > _MOST + len(files):
        return list(files)
    by_number = dict(zip(known, files, strict=True))
    row = list(range(known[0], known[-1] + 1, step))
    while count is not None and len(row) < count:
        row.append(row[-1] + step)
    if not set(known) <= set(row) or (count is not None and len(row) > count):
        return list(files)
    return [by_number.get(n) or _numbered(files[0], n) for n in row]


def _numbered(like: Path, number: int) -> Path:
    """Return a path like another with its last number replaced, as many digits wide."""
    stem = re.sub(r"\d+(?=\D*$)", lambda found: f"{number:0{len(found.group())}d}", like.stem)
    return like.with_name(stem + like.suffix)
