"""What a person said in an earlier map, or in another file: found before any work, told after it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gridmap.model import Interpretation, Listed, OldRow
from gridmap.pipeline.frame import Frame
from gridmap.pipeline.run import Run
from gridmap.read.edits import Edits, read_edits
from gridmap.read.whole import read_whole


@dataclass(frozen=True, slots=True)
class Earlier:
    """Rows of an earlier features.gpkg, and the file itself where a person had a hand in it."""

    rows: tuple[OldRow, ...] = ()
    copy: bytes | None = None


def earlier_edits(out: Path, edits: Path | None, frame: Frame, run: Run) -> Earlier:
    """Read the features.gpkg that is about to be replaced, and the file named.

    Parameters
    ----------
    out : Path
        Output folder.
    edits : Path or None
        File named by the user; where both have a row of one identity, this one holds.
    frame : Frame
        Of the map to be made.
    run : Run
        Takes warnings.

    Returns
    -------
    Earlier
        `copy`: the file that is about to be replaced, where a person had touched it.

    Raises
    ------
    ReadError
        If a file cannot be read or lies in another frame.
    """
    old_file = out / "features.gpkg"
    before = Edits()
    copy = None
    if old_file.is_file():
        before = read_edits(old_file, frame.crs_wkt, frame.transform)
        if any(row.touched for row in before.rows) or before.warnings:
            copy = read_whole(old_file)
    named = read_edits(edits, frame.crs_wkt, frame.transform) if edits is not None else Edits()
    both = named.over(before)
    run.warnings += both.warnings
    return Earlier(both.rows, copy)


def tell_kept(what: Interpretation, run: Run) -> Interpretation:
    """Note how many words and shapes of a person's were kept."""
    listed: tuple[Listed[Any], ...] = (*what.linear, *what.outlines, *what.points)
    for status in ("accepted", "rejected", "drawn"):
        ids = [f.id for f in listed if f.said.status == status]
        if ids:
            run.notes.append(f"{status} by a person: {', '.join(ids)}")
    gone = [f.id for f in listed if "not found again" in f.remark]
    if gone:
        run.notes.append(f"not found again in this run, kept as they were: {', '.join(gone)}")
    return what
