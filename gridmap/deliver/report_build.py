"""The report put together: which sections, in which order, with what the user's template replaces."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from gridmap.deliver.caution import CAUTION, CAUTION_SHORT
from gridmap.deliver.report_about import all_inputs, archive, limits, methods, provenance, site
from gridmap.deliver.report_blocks import Block, Figure, Report, Section, Table, Text, without_empty
from gridmap.deliver.report_findings import findings, summary
from gridmap.deliver.report_ground import reach, slices, velocity
from gridmap.deliver.report_lines import all_lines, checks, positions
from gridmap.deliver.report_profiles import profiles
from gridmap.deliver.report_told import Told
from gridmap.deliver.report_words import Words, checked_date, clean
from gridmap.errors import InputError
from gridmap.read.made_map import MadeMap

SECTIONS: Mapping[str, Callable[[Told], Section]] = {
    "summary": summary,
    "findings": findings,
    "slices": slices,
    "profiles": profiles,
    "velocity": velocity,
    "reach": reach,
    "positions": positions,
    "checks": checks,
    "limits": limits,
    "site": site,
    "methods": methods,
    "archive": archive,
    "provenance": provenance,
}
"""What can stand in a report, by the key in the words file."""

MUST = ("limits",)
"""Sections that no template takes away: they say what the survey cannot."""

SAID = (
    "company", "client", "author", "contact", "reference", "surveyed", "purpose", "conditions", "instrument",
    "keywords", "rights", "archive", "date",
)  # fmt: skip
"""What only the user can say; keys of [report] in the site file."""
PICTURES = (".svg", ".png", ".jpg", ".jpeg")


def build_report(
    made: MadeMap, words: Words, *, template: Path | None = None, day: str | None = None
) -> Report:
    """Put the report together.

    Parameters
    ----------
    made : MadeMap
        The map.
    words : Words
        Sentences.
    template : Path or None
        The user's folder: figures and a logo are taken from it.
    day : str or None
        Date of the report, year-month-day; None: what template or site file state, else none.

    Returns
    -------
    Report
        The same input gives the same report.

    Raises
    ------
    InputError
        If a date is none, a section is not known, or a section that must stand is left out.
    """
    said = stated(made, words)
    if day is not None:
        said["date"] = checked_date(day, "date of the report")
    told = Told(made, words, said)
    w = words
    facts = [(w("facts.site"), told.site)]
    facts += [
        (w(f"facts.{key}"), said[key])
        for key in ("client", "company", "author", "contact", "reference", "surveyed", "date")
        if key in said
    ]
    facts.append((w("facts.crs"), told.crs_words()))
    return Report(
        title=w("report.title"),
        site=told.site,
        caution=CAUTION,
        caution_short=CAUTION_SHORT,
        page_word=w("report.page", page="\x01", pages="\x02"),
        facts=tuple(facts),
        company=said.get("company", ""),
        date=said.get("date", ""),
        language=w("report.language"),
        logo=_logo(template),
        contents_heading=w("report.contents"),
        sections=tuple(_replaced(section, template) for section in _sections(told)),
        tables=(all_lines(told), all_inputs(told)),
    )


def stated(made: MadeMap, words: Words) -> dict[str, str]:
    """Gather what the user said: the site file's [report], and the template's over it.

    Raises
    ------
    InputError
        If a date is no day.
    """
    told = made.record["parameters"].get("site", {}).get("report") or {}
    found = {key: clean(told[key]) for key in SAID if told.get(key)}
    for key in ("company", "client", "author", "contact", "reference", "date"):
        if words(f"report.{key}"):
            found[key] = clean(words(f"report.{key}"))
    if "date" in found:
        found["date"] = checked_date(found["date"], "[report] date")
    return found


def _sections(told: Told) -> list[Section]:
    own = {row["key"]: row for row in told.words.own()}
    keys = told.words.items("report.sections")
    for key in keys:
        if key not in SECTIONS and key not in own:
            raise InputError(
                f"sections: there is none called {clean(key)!r}. There are {', '.join([*SECTIONS, *own])}."
            )
    lacking = [key for key in MUST if key not in keys]
    if lacking:
        raise InputError(
            f"sections: {', '.join(lacking)} must stand in every report: it says what the survey cannot."
        )
    made = []
    for key in dict.fromkeys(keys):
        if key in own:
            parts = [part for part in own[key]["text"].split("\n\n") if part.strip()]
            made.append(Section(key, clean(own[key]["heading"]), tuple(Text(clean(part)) for part in parts)))
        else:
            made.append(SECTIONS[key](told))
    return made


def _replaced(section: Section, template: Path | None) -> Section:
    """Give each figure its file, the template's own where there is one."""
    blocks: list[Block] = []
    for block in section.blocks:
        if isinstance(block, Figure):
            theirs = None if template is None else picture_of(template / "figures", block.name)
            name = f"figures/{block.name}.svg" if theirs is None else f"figures/{theirs.name}"
            blocks.append(replace(block, file=name, svg=block.svg if theirs is None else ""))
        else:
            blocks.append(without_empty(block) if isinstance(block, Table) and block.rows else block)
    return replace(section, blocks=tuple(blocks))


def picture_of(folder: Path, stem: str) -> Path | None:
    """Return the picture of that name in a folder, of whatever kind; None where there is none."""
    return next((folder / f"{stem}{end}" for end in PICTURES if (folder / f"{stem}{end}").is_file()), None)


def _logo(template: Path | None) -> str:
    found = None if template is None else picture_of(template, "logo")
    return "" if found is None else found.name
