"""The report as PDF/A-2a and PDF/UA-1: tagged, fonts inside, the same bytes each time; typeset by Typst."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import asdict
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Literal

from gridmap.deliver.report_blocks import Report
from gridmap.deliver.report_build import PICTURES
from gridmap.deliver.report_words import ASSETS, Words
from gridmap.deliver.strict_json import to_text
from gridmap.errors import InputError
from gridmap.files import whole_file

STANDARDS: tuple[Literal["a-2a", "ua-1"], ...] = ("a-2a", "ua-1")
FONTS = ASSETS.parent / "fonts"
_LACKING = "\N{WHITE SQUARE}"


def write_pdf(path: Path, report: Report, words: Words, template: Path | None) -> None:
    """Typeset the report and write it whole or not at all.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    report : Report
        What to say.
    words : Words
        For the words that the layout needs.
    template : Path or None
        The user's folder: report.typ, logo, figures and fonts are taken from it.

    Raises
    ------
    InputError
        If the user's report.typ or a picture of theirs cannot be typeset.
    """
    from typst import TypstError, compile  # noqa: A004 - the library's name

    with tempfile.TemporaryDirectory(prefix="gridmap-") as held:
        folder = Path(held)
        lay_out(folder, report, words, template)
        stamp = datetime.fromisoformat(report.date or "1970-01-01").replace(tzinfo=UTC)
        try:
            made = compile(
                str(folder / "report.typ"), root=held, font_paths=[str(p) for p in font_folders(template)],
                ignore_system_fonts=True, format="pdf", pdf_standards=list(STANDARDS), timestamp=stamp,
            )  # fmt: skip
        except TypstError as problem:
            where = "report.typ" if template is None else f"{template}"
            raise InputError(
                f"{where}: cannot be typeset: {' '.join(problem.message.split())}"
                f" {' '.join(' '.join(problem.hints).split())}".strip()
            ) from problem
    assert isinstance(made, bytes)
    with whole_file(path) as part:
        part.write_bytes(made)


def lay_out(folder: Path, report: Report, words: Words, template: Path | None) -> None:
    """Lay layout, data, figures and logo into a folder, for the typesetter."""
    own = None if template is None else template / "report.typ"
    shutil.copyfile(
        own if own is not None and own.is_file() else ASSETS / "report.typ", folder / "report.typ"
    )
    (folder / "figures").mkdir()
    for figure in (b for b in report.blocks() if b.kind == "figure"):
        if figure.svg:
            (folder / figure.file).write_text(shown(figure.svg, template), encoding="utf-8")
    if template is not None:
        for part in ("", "figures"):
            for picture in sorted((template / part).glob("*")):
                if picture.suffix.lower() in PICTURES and picture.is_file():
                    shutil.copyfile(picture, folder / part / picture.name)
    data = to_text(
        {**asdict(report), "figure_word": words("report.figure"), "table_word": words("report.table")},
        indent=None,
    )
    (folder / "report.json").write_text(shown(data, template), encoding="utf-8")


def font_folders(template: Path | None) -> list[Path]:
    """Folders of fonts: the user's, ours, and the one that matplotlib carries."""
    from matplotlib import get_data_path

    theirs = [] if template is None or not (template / "fonts").is_dir() else [template / "fonts"]
    return [*theirs, FONTS, Path(get_data_path()) / "fonts" / "ttf"]


def shown(text: str, template: Path | None) -> str:
    """Put a square where no font has the letter, since PDF/A allows no letter without a shape."""
    have = _letters(tuple(font_folders(template)))
    return "".join(c if ord(c) < 127 or ord(c) in have else _LACKING for c in text)


@cache
def _letters(folders: tuple[Path, ...]) -> frozenset[int]:
    """Letters of all fonts in the folders."""
    from matplotlib.ft2font import FT2Font

    found: set[int] = {0x200B, 0x200C, 0x200D, 0xAD}
    for folder in folders:
        for file in sorted(folder.glob("*")):
            usable = file.suffix.lower() in (".ttf", ".otf") and (
                folder != folders[-1] or file.name == "DejaVuSans.ttf"
            )
            if usable:
                found.update(FT2Font(str(file)).get_charmap())
    return frozenset(found)
