"""What a report is made of: sections of paragraphs, lists, tables and figures, with no layout in them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    words: str
    kind: str = "text"


@dataclass(frozen=True, slots=True)
class Notice:
    """A paragraph that must not be overlooked."""

    words: str
    heading: str = ""
    kind: str = "notice"


@dataclass(frozen=True, slots=True)
class Subheading:
    """A heading within a section."""

    words: str
    kind: str = "subheading"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list without numbers."""

    items: tuple[str, ...]
    kind: str = "bullets"


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a name and what is known of it."""

    rows: tuple[tuple[str, str], ...]
    kind: str = "facts"


@dataclass(frozen=True, slots=True)
class Table:
    """A table.

    Attributes
    ----------
    name : str
        Stem of its file in the data appendix.
    caption : str
        What it holds.
    head : tuple of str
        Headings of the columns.
    rows : tuple of tuple of str
        Cells as they are read.
    sides : str
        A letter a column: l, text; r, numbers; w, text that takes what width is left.
    note : str
        What must be said below it.
    """

    name: str
    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sides: str
    note: str = ""
    kind: str = "table"


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing.

    Attributes
    ----------
    name : str
        Stem of its file; a file of this stem in a template's `figures` takes its place.
    caption : str
        What it shows and at what scale.
    alt : str
        The same for who cannot see it.
    svg : str
        The drawing; empty where the template's file takes its place.
    file : str
        Name of the file that the layout reads.
    """

    name: str
    caption: str
    alt: str
    svg: str
    file: str = ""
    kind: str = "figure"


def without_empty(table: Table) -> Table:
    """Leave out the columns in which no row says anything."""
    keep = [k for k in range(len(table.head)) if any(row[k] for row in table.rows)]
    return replace(
        table,
        head=tuple(table.head[k] for k in keep),
        rows=tuple(tuple(row[k] for k in keep) for row in table.rows),
        sides="".join(table.sides[k] for k in keep),
    )


Block = Text | Notice | Subheading | Bullets | Facts | Table | Figure


@dataclass(frozen=True, slots=True)
class Section:
    """A section: its key in the words, heading and blocks."""

    key: str
    heading: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """The whole report.

    Attributes
    ----------
    title, site : str
        First and second row.
    caution, caution_short, page_word : str
        For the head and the foot of a page.
    facts : tuple of (str, str)
        What stands below the title.
    company, date, language, logo, contents_heading : str
        Empty where not given; `logo` is a file name.
    sections : tuple of Section
        In reading order.
    tables : tuple of Table
        Further tables of the data appendix that are too long to print.
    """

    title: str
    site: str
    caution: str
    caution_short: str
    page_word: str
    facts: tuple[tuple[str, str], ...]
    company: str
    date: str
    language: str
    logo: str
    contents_heading: str
    sections: tuple[Section, ...]
    tables: tuple[Table, ...] = field(default=())

    def blocks(self) -> list[Any]:
        """Every block of every section."""
        return [block for section in self.sections for block in section.blocks]
