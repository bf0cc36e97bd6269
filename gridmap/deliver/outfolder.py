"""The output folder as a whole: refused early, made under another name, and renamed when finished."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gridmap.errors import OutputError
from gridmap.files import whole_folder

RECORDS = {"map": "run.json", "check": "check.json"}
"""What is made in a folder, and the file by which it is known again."""


def refuse_folder(out: Path, replace_old: bool, made: str = "map") -> None:
    """Raise before any work where the output folder cannot be used.

    Parameters
    ----------
    out : Path
        Where the result is to stand.
    replace_old : bool
        Whether an earlier result of the same kind may be replaced.
    made : str
        What kind it is: a key of `RECORDS`.

    Raises
    ------
    OutputError
        If `out` is a file, holds something else, or cannot be written.
    """
    if out.exists() and not out.is_dir():
        raise OutputError(f"{out}: is a file. Name a folder that does not exist yet.")
    if out.is_dir() and any(out.iterdir()):
        if not replace_old:
            raise OutputError(
                f"{out}: folder is not empty. Name another one, or add --replace if it holds an earlier {made}."
            )
        if not _is_ours(out / RECORDS[made]):
            raise OutputError(
                f"{out}: is no earlier {made} (no {RECORDS[made]} of gridmap's in it), so it is not replaced."
            )
    parent = out.absolute().parent
    while not parent.exists():
        parent = parent.parent
    if not parent.is_dir() or not os.access(parent, os.W_OK | os.X_OK):
        raise OutputError(
            f"{out}: {parent} cannot be written to. Choose another place, or ask for the right."
        )


@contextmanager
def finished_folder(out: Path, replace_old: bool, made: str = "map") -> Iterator[Path]:
    """Give a temporary folder beside `out` that takes its name when the block ends without an error.

    Raises
    ------
    OutputError
        As `refuse_folder`, or where the disk says no while writing.
    """
    refuse_folder(out, replace_old, made)
    try:
        out.absolute().parent.mkdir(parents=True, exist_ok=True)
        with whole_folder(out.absolute()) as folder:
            yield folder
    except OSError as problem:
        raise OutputError(
            f"{out}: {problem.strerror or problem}. Nothing was written. Free space, or choose another place with -o"
            " and name the same work folder with --work to go on from what is done."
        ) from problem


def _is_ours(record: Path) -> bool:
    try:
        return bool(json.loads(record.read_text(encoding="utf-8")).get("program") == "gridmap")
    except (OSError, ValueError, AttributeError):
        return False
