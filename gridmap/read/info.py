"""Describe line files of any known format: what they hold and what the reader would assume."""

from __future__ import annotations

from pathlib import Path

from gridmap.model.layout import Layouts
from gridmap.read.line_info import LineInfo, as_table
from gridmap.read.sniff import NO_LAYOUTS, choose_reader

__all__ = ["LineInfo", "as_table", "describe"]


def describe(
    path: Path | str, *, sample_interval_ns: float | None = None, layouts: Layouts = NO_LAYOUTS
) -> LineInfo:
    """Describe one line file from its headers; samples are read only where a format has no headers.

    Parameters
    ----------
    path : Path
        The file.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules the file.
    layouts : Layouts
        How text and array files are laid out, as far as the user states it.

    Returns
    -------
    LineInfo
        `trouble` is not empty where `read_line` would refuse the file for what its headers say.

    Raises
    ------
    ReadError
        If the format is not known, or the file is not as long as its headers promise.
    """
    reader = choose_reader(path)
    return reader.describe(Path(path), **reader.options(sample_interval_ns, layouts))
