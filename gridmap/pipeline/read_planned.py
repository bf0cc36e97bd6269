"""The line that a plan names: a file of its own, or a channel in a file of several."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from gridmap.model import Layouts, Line
from gridmap.read.channels import channel_of
from gridmap.read.sniff import read_line
from gridmap.site.records import LinePlan, Site


def read_planned(site: Site, plan: LinePlan) -> Line:
    """Read the line of a plan.

    Raises
    ------
    ReadError
        As the reader of its format, and for a file that does not hold whole rounds of channels.
    """
    interval_ns = site.processing.sample_interval_ns
    if plan.channels is None or plan.channel is None:
        return read_line(plan.file, name=plan.name, sample_interval_ns=interval_ns, layouts=site.layouts)
    known = plan.file.stat()
    whole = _whole(plan.file, interval_ns, site.layouts, known.st_mtime_ns, known.st_size)
    return channel_of(whole, plan.channel, plan.channels, plan.name)


@lru_cache(maxsize=1)
def _whole(path: Path, interval_ns: float | None, layouts: Layouts, _changed_ns: int, _size: int) -> Line:
    """Read a file of several channels; the last one stays, since its channels are asked for one after another."""
    return read_line(path, sample_interval_ns=interval_ns, layouts=layouts)
