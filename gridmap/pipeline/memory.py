"""How much memory a map takes, how much there is, and a clear word before it is too little."""

from __future__ import annotations

import os
import re
from pathlib import Path

from gridmap.errors import InputError
from gridmap.pipeline.work import ROOM_BYTES

BASE_BYTES = 650_000_000
"""Libraries, and tiles and lines while they are worked on."""

PER_VOLUME, PER_TRACES = 2.5, 2.0
"""Times the volume and the traces that are held where both are small: 1.24 GB for the 20 m square, 0.71 GB for a yard
of 6 by 8 m (largest resident set, `docs/resuming.md`)."""

PER_TILED, TILED_FROM = 1.0, 500_000_000
"""Times the part of a volume beyond this that is held where it is made by tiles: it lies in a file, and what is held
are slices and slabs of it."""

PER_PLACING = 2.5
"""Times the traces that the search for faults of position holds, before there is a volume: 2.3 measured."""

SHARE = 0.9
"""Of what the machine, or the container, has: what a job may take where nothing is said."""

_UNITS = {
    "": 1,
    "k": 10**3,
    "m": 10**6,
    "g": 10**9,
    "t": 10**12,
    "ki": 2**10,
    "mi": 2**20,
    "gi": 2**30,
    "ti": 2**40,
}


def parse_size(text: str) -> int:
    """Read a size such as "2GiB", "1500 MB" or "4G"; bytes.

    Raises
    ------
    InputError
        If it is no size above 0.
    """
    found = re.fullmatch(r"\s*([0-9]+(?:\.[0-9]+)?)\s*([kmgt]?i?)b?\s*", text, re.IGNORECASE)
    size = int(float(found[1]) * _UNITS[found[2].lower()]) if found and found[2].lower() in _UNITS else 0
    if size <= 0:
        raise InputError(f"memory: {text!r} is no size. Give one such as 2GiB or 1500MB.")
    return size


def memory_there() -> int:
    """Return the memory that this process may use: the machine's, or its container's where that is less; bytes."""
    try:
        sizes = [os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")]
    except (ValueError, OSError, AttributeError):
        return 2**62  # Nothing is known: nothing is refused.
    for name in ("/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory/memory.limit_in_bytes"):
        try:
            sizes.append(int(Path(name).read_text(encoding="ascii")))
        except (OSError, ValueError):  # not there, or "max"
            continue
    return min(sizes)


def memory_needed(volume_bytes: int, traces_bytes: int, by_tiles: bool) -> int:
    """Return about what a map takes, bytes: what cannot be put back on the disk; arguments as `refuse_too_little`."""
    small = min(volume_bytes, TILED_FROM) if by_tiles else volume_bytes
    volume = PER_VOLUME * small + PER_TILED * (volume_bytes - small)
    gathered = min(PER_TRACES * traces_bytes, ROOM_BYTES)
    return int(BASE_BYTES + max(volume + gathered, PER_PLACING * traces_bytes))


def refuse_too_little(limit: int | None, volume_bytes: int, traces_bytes: int, by_tiles: bool) -> None:
    """Raise before the long part of a job where it would take more memory than it may.

    Parameters
    ----------
    limit : int or None
        Bytes; None: `SHARE` of what there is.
    volume_bytes, traces_bytes : int
        Size of the volume and of all conditioned traces.
    by_tiles : bool
        Whether the volume is made part by part.

    Raises
    ------
    InputError
        With the smallest limit that works, and what else to do.
    """
    needed = memory_needed(volume_bytes, traces_bytes, by_tiles)
    allowed = int(SHARE * memory_there()) if limit is None else limit
    if needed <= allowed:
        return
    smallest = -(-needed // 2**20 // 100) * 100
    what = (
        f"the limit is {allowed / 2**20:.0f} MiB"
        if limit is not None
        else f"there are {allowed / 2**20:.0f} MiB"
    )
    raise InputError(
        f"memory: this map takes about {needed / 2**20:.0f} MiB, but {what}. Give --memory {smallest}MiB or more where"
        " the machine has it, or set a larger cell_m or a smaller depth_max_m in [processing], or map the site in"
        " parts. What is done so far is kept, and the same command goes on from it."
    )
