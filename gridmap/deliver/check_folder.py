"""The folder that a check is handed over in: page for the tablet, verdict and list on paper, figures for scripts."""

from __future__ import annotations

from pathlib import Path

from gridmap._version import VERSION
from gridmap.check.finding import verdict_record
from gridmap.deliver.check_list import write_walk_again
from gridmap.deliver.check_page import CheckPage, write_check_page
from gridmap.deliver.check_sheet import write_check_sheet
from gridmap.deliver.outfolder import finished_folder
from gridmap.deliver.strict_json import to_text
from gridmap.files import write_text

CHECK_FILES = (
    ("index.html", "For the tablet: verdict, plan, radargrams; offline"),
    ("check.pdf", "To print: the verdict on one page"),
    ("walk-again.pdf", "To print: what to walk again, with boxes to tick"),
    ("check.json", "All findings for scripts"),
)
"""What a check's folder holds, in the order in which people open it."""


def write_check(out: Path, page: CheckPage, *, replace_old: bool = False) -> None:
    """Write a check into a folder, whole or not at all.

    Parameters
    ----------
    out : Path
        New or empty, or with `replace_old` an earlier check.
    page : CheckPage
        Verdict and radargrams.
    replace_old : bool
        Whether an earlier check may be replaced: the crew walks again and checks again.

    Raises
    ------
    OutputError
        Where the folder cannot be used; nothing is written then.
    """
    with finished_folder(out, replace_old, "check") as folder:
        write_check_page(folder / "index.html", page)
        write_check_sheet(folder / "check.pdf", page.verdict)
        write_walk_again(folder / "walk-again.pdf", page.verdict, page.radargrams)
        record = {"program": "gridmap", "version": VERSION, **verdict_record(page.verdict)}
        write_text(folder / "check.json", to_text(record))
