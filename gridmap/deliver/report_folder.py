"""Everything that the report is: report.pdf, report.html and the data appendix report/; and a template to edit."""

from __future__ import annotations

import shutil
from pathlib import Path

from gridmap.deliver.report_blocks import Report
from gridmap.deliver.report_data import write_appendix
from gridmap.deliver.report_html import write_html
from gridmap.deliver.report_pdf import write_pdf
from gridmap.deliver.report_words import ASSETS, Words
from gridmap.errors import InputError, OutputError
from gridmap.files import whole_folder, write_text
from gridmap.read.made_map import MadeMap

TEMPLATE_FILES = ("words.toml", "report.typ", "report.html", "report.css")
_ABOUT = """\
A template for gridmap's report. Use it with: gridmap report OUT --template THIS-FOLDER

words.toml    every word and the order of the sections. Keys that you delete stay as they are in gridmap.
report.typ    the look of the PDF, in Typst (https://typst.app/docs).
report.html, report.css   the look of the page.
logo.svg, logo.png or logo.jpg   yours, if you lay it here.
figures/      a picture laid here takes the place of the figure of the same name: plan, slice, slices, velocity,
              reach, profile_1, ... as .svg, .png or .jpg.
fonts/        fonts that report.typ may name.

Files that you delete are taken from gridmap.
"""


def write_report(
    folder: Path, report: Report, made: MadeMap, words: Words, template: Path | None
) -> list[str]:
    """Write the report into the output folder of its map.

    Parameters
    ----------
    folder : Path
        The output folder.
    report : Report
        What to say.
    made : MadeMap
        The map.
    words : Words
        Sentences.
    template : Path or None
        The user's folder.

    Returns
    -------
    list of str
        What was written, relative to the folder.

    Raises
    ------
    InputError
        If a file of the template cannot be used; earlier reports stay as they were then.
    OutputError
        If the disk says no.
    """
    try:
        write_pdf(folder / "report.pdf", report, words, template)
        write_html(folder / "report.html", report, words, template)
        appendix = write_appendix(folder / "report", report, made)
    except OSError as problem:
        raise OutputError(
            f"{folder}: the report cannot be written ({problem.strerror or problem}); check rights and free space."
        ) from problem
    return ["report.pdf", "report.html", *(f"report/{name}" for name in appendix)]


def write_template(folder: Path) -> list[str]:
    """Write our own template into a new folder, to be edited.

    Raises
    ------
    InputError
        If the folder exists.
    OutputError
        If it cannot be written.
    """
    if folder.exists():
        raise InputError(f"{folder}: is there already. Name a folder that does not exist yet.")
    try:
        folder.absolute().parent.mkdir(parents=True, exist_ok=True)
        with whole_folder(folder.absolute()) as part:
            for name in TEMPLATE_FILES:
                shutil.copyfile(ASSETS / name, part / name)
            (part / "figures").mkdir()
            (part / "fonts").mkdir()
            write_text(part / "README.txt", _ABOUT)
    except OSError as problem:
        raise OutputError(f"{folder}: cannot be written ({problem.strerror or problem}).") from problem
    return [*TEMPLATE_FILES, "README.txt"]
