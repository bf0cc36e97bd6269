"""The report as one HTML page that opens from a file, offline; every word of the user's is escaped."""

from __future__ import annotations

import base64
from html import escape
from pathlib import Path

from gridmap.deliver.report_blocks import (
    Block,
    Bullets,
    Facts,
    Figure,
    Notice,
    Report,
    Section,
    Subheading,
    Table,
    Text,
)
from gridmap.deliver.report_words import ASSETS, Words
from gridmap.errors import InputError
from gridmap.files import write_text

_MEDIA = {".svg": "image/svg+xml", ".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg"}
PLACES = ("language", "title", "style", "body")
"""What report.html must have, each in double braces."""


def write_html(path: Path, report: Report, words: Words, template: Path | None) -> None:
    """Write the page whole or not at all.

    Parameters
    ----------
    path : Path
        The file.
    report : Report
        What to say.
    words : Words
        For the words "Figure" and "Table".
    template : Path or None
        The user's folder: report.html, report.css, logo and figures are taken from it.

    Raises
    ------
    InputError
        If the user's report.html lacks a place.
    """
    page = _asset("report.html", template)
    parts = {
        "language": escape(report.language),
        "title": escape(f"{report.title}: {report.site}"),
        "style": _asset("report.css", template).replace("</", "<\\/"),
        "body": _body(report, words, template),
    }
    for name in PLACES:
        if "{{" + name + "}}" not in page:
            raise InputError(f"report.html of the template: has no place {{{{{name}}}}}.")
    before, after = page.split("{{body}}", 1)
    for name in PLACES[:3]:
        before, after = (part.replace("{{" + name + "}}", parts[name]) for part in (before, after))
    write_text(path, before + parts["body"] + after)


def _asset(name: str, template: Path | None) -> str:
    own = None if template is None else template / name
    return (own if own is not None and own.is_file() else ASSETS / name).read_text(encoding="utf-8")


def _body(report: Report, words: Words, template: Path | None) -> str:
    count = _Count(words)
    logo = _logo(report, template)
    contents = "".join(
        f'<li><a href="#{escape(s.key, quote=True)}">{escape(s.heading)}</a></li>' for s in report.sections
    )
    sections = "\n".join(_section(section, count, template) for section in report.sections)
    return (
        f'<header class="top">{logo}<p class="kind">{escape(report.title)}</p><h1>{escape(report.site)}</h1>'
        f"{_facts(report.facts)}</header>\n"
        f'<nav aria-label="{escape(report.contents_heading, quote=True)}"><h2>{escape(report.contents_heading)}</h2>'
        f'<ol>{contents}</ol></nav>\n<main id="main">\n{sections}\n</main>\n'
        f"<footer><p>{escape(report.caution)}</p></footer>"
    )


class _Count:
    """Numbers figures and tables."""

    def __init__(self, words: Words) -> None:
        self._names = {"figure": words("report.figure"), "table": words("report.table")}
        self._at = {"figure": 0, "table": 0}

    def next(self, kind: str) -> str:
        self._at[kind] += 1
        return f"<b>{escape(self._names[kind])} {self._at[kind]}</b> "


def _section(section: Section, count: _Count, template: Path | None) -> str:
    inside = "\n".join(_block(block, count, template) for block in section.blocks)
    key = escape(section.key, quote=True)
    head = f'<h2 id="{key}-h">{escape(section.heading)}</h2>'
    return f'<section id="{key}" aria-labelledby="{key}-h">{head}\n{inside}\n</section>'


def _block(block: Block, count: _Count, template: Path | None) -> str:
    match block:
        case Text():
            return f"<p>{escape(block.words)}</p>"
        case Notice():
            head = f"<p><b>{escape(block.heading)}</b></p>" if block.heading else ""
            return f'<div class="notice" role="note">{head}<p>{escape(block.words)}</p></div>'
        case Subheading():
            return f"<h3>{escape(block.words)}</h3>"
        case Bullets():
            return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in block.items) + "</ul>"
        case Facts():
            return _facts(block.rows)
        case Table():
            return _table(block, count)
        case Figure():
            picture = _picture(block, template)
            return f"<figure>{picture}<figcaption>{count.next('figure')}{escape(block.caption)}</figcaption></figure>"


def _facts(rows: tuple[tuple[str, str], ...]) -> str:
    return "<dl>" + "".join(f"<div><dt>{escape(k)}</dt><dd>{escape(v)}</dd></div>" for k, v in rows) + "</dl>"


def _table(table: Table, count: _Count) -> str:
    sides = ["r" if s == "r" else "l" for s in table.sides]
    head = "".join(
        f'<th scope="col" class="{s}">{escape(h)}</th>' for s, h in zip(sides, table.head, strict=True)
    )
    rows = "".join(
        "<tr>"
        + "".join(f'<td class="{s}">{escape(c)}</td>' for s, c in zip(sides, row, strict=True))
        + "</tr>"
        for row in table.rows
    )
    name = escape(table.caption, quote=True)
    note = f'<p class="note">{escape(table.note)}</p>' if table.note else ""
    return (
        f'<div class="wide" role="region" aria-label="{name}" tabindex="0"><table>'
        f"<caption>{count.next('table')}{escape(table.caption)}</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>{note}"
    )


def _picture(figure: Figure, template: Path | None) -> str:
    if figure.svg:
        drawing = figure.svg.split("?>", 1)[-1].strip().replace('role="img"', 'aria-hidden="true"', 1)
        return f'<div role="img" aria-label="{escape(figure.alt, quote=True)}">{drawing}</div>'
    assert template is not None
    return f'<img src="{_data(template / figure.file)}" alt="{escape(figure.alt, quote=True)}">'


def _logo(report: Report, template: Path | None) -> str:
    if not report.logo or template is None:
        return f'<p class="company">{escape(report.company)}</p>' if report.company else ""
    alt = escape(report.company, quote=True)
    return f'<img class="logo" src="{_data(template / report.logo)}" alt="{alt}">'


def _data(path: Path) -> str:
    media = _MEDIA[path.suffix.lower()]
    return f"data:{media};base64,{base64.b64encode(path.read_bytes()).decode('ascii')}"
