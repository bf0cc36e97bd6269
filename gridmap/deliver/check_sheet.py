"""Paper for the crew: the verdict on one page."""

from __future__ import annotations

from pathlib import Path

from gridmap.check.finding import Finding, Severity, Verdict
from gridmap.check.finding_words import ANSWERS, count_words, stretch_words, what_words
from gridmap.deliver.check_sheet_plan import COLOURS, draw_check_plan, legend
from gridmap.deliver.sheet_page import FOOT_MM, MARGIN_MM, WIDE_MM, Page, short, wrapped, write_pages

_WIDE = WIDE_MM - 2 * MARGIN_MM
_KIND = "check"
_GOOD = "#0b5b2c"
_PLAN_MM = 112.0
_TITLES: tuple[tuple[Severity, str], ...] = (
    ("walk again", "Walk again before leaving"),
    ("attention", "Look at"),
)


def write_check_sheet(path: Path, verdict: Verdict) -> None:
    """Write the verdict as a PDF of one A4 page, whole or not at all.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    verdict : Verdict
        What to print; findings that find no room are counted.
    """
    write_pages(path, lambda: [_verdict_page(verdict)], f"{ANSWERS[verdict.complete]}: {verdict.site}")


def _verdict_page(verdict: Verdict) -> Page:
    page = Page(f"Check: {verdict.site}", 1, _KIND)
    _banner(page, verdict)
    for x, label, wide in ((MARGIN_MM, "Date", 28), (60, "Crew", 50), (127, "Told to", 54)):
        page.text(x, 49, label)
        page.blank(x + 12, 49, wide)
    y = 54.0
    if verdict.lines:
        y = draw_check_plan(page, verdict, y, y + _PLAN_MM)
        legend(page, y + 3, ("walk again", "attention"))
        y += 9
    y = _findings(page, verdict, y, FOOT_MM - 4 - 4.4 * min(3, len(verdict.site_words)))
    for words in verdict.site_words[:3]:
        y += 4.4
        page.text(MARGIN_MM, y, short(words[:1].upper() + words[1:], _WIDE, 7.5), size=7.5)
    return page


def _banner(page: Page, verdict: Verdict) -> None:
    """Say the verdict in large letters on its colour, with a sign of its own shape."""
    colour = _GOOD if verdict.complete else COLOURS["walk again"]
    right = WIDE_MM - MARGIN_MM
    page.axes.fill([MARGIN_MM, right, right, MARGIN_MM], [23, 23, 42, 42], color=colour)
    page.axes.plot(
        [MARGIN_MM + 9.5], [32.5], marker="o" if verdict.complete else "8", ms=30, mfc="none", mec="w", mew=2
    )
    page.axes.text(
        MARGIN_MM + 9.5, 32.5, "\N{CHECK MARK}" if verdict.complete else "!",
        size=20, color="w", weight="bold", ha="center", va="center",
    )  # fmt: skip
    page.axes.text(
        MARGIN_MM + 20, 33, ANSWERS[verdict.complete], size=24, color="w", weight="bold", va="baseline"
    )
    page.axes.text(
        MARGIN_MM + 20, 39.2, count_words(verdict), size=10, color="w", weight="bold", va="baseline"
    )


def _findings(page: Page, verdict: Verdict, y: float, foot: float) -> float:
    """List findings worst first until the page is full; return the base line reached."""
    numbered = [(k, f) for k, f in enumerate(verdict.findings, 1) if f.severity != "note"]
    if not numbered:
        page.text(MARGIN_MM, y, "No line shows a fault that must be put right before leaving.", bold=True)
        return y + 2
    acts: set[str] = set()
    told, placed = 0, all(line.placed for line in verdict.lines)
    for severity, title in _TITLES:
        mine = [(k, f) for k, f in numbered if f.severity == severity]
        if not mine or y + 9 > foot:
            continue
        page.text(MARGIN_MM, y, title, size=9.5, bold=True)
        y += 4.8
        for number, f in mine:
            said = what_words(f) if f.what_to_do in acts else f"{what_words(f)} {f.what_to_do}".strip()
            acts.add(f.what_to_do)
            rows = rows_of(said, _WIDE - 56, 8, 4 if severity == "walk again" else 2)
            if y + 3.8 * len(rows) > foot:
                break
            _numbered(page, y, number, f, placed)
            for k, row in enumerate(rows):
                page.text(MARGIN_MM + 56, y + 3.6 * k, row, size=8)
            y += 3.6 * len(rows) + 1.0
            told += 1
    if told < len(numbered):
        page.text(
            MARGIN_MM,
            y,
            f"and {len(numbered) - told} more: see index.html",
            size=8,
            bold=True,
        )
        y += 3.6
    return y


def _numbered(page: Page, y: float, number: int, f: Finding, placed: bool) -> None:
    style = "circle,pad=0.2" if f.severity == "walk again" else "square,pad=0.25"
    page.axes.text(
        MARGIN_MM + 2, y - 1, str(number), size=6.5, color="w", weight="bold", ha="center", va="center",
        bbox={"boxstyle": style, "facecolor": COLOURS[f.severity], "edgecolor": "none"},
    )  # fmt: skip
    page.text(MARGIN_MM + 6, y, short(f.line or "survey", 22, 8), size=8, bold=True)
    page.text(MARGIN_MM + 30, y, stretch_words(f, placed) or ("whole line" if f.line else ""), size=8)


def rows_of(words: str, width_mm: float, size: float, most: int) -> list[str]:
    """Break text into at most so many rows; what is cut is shown to be."""
    rows = list(wrapped(words, width_mm, size))
    return rows if len(rows) <= most else [*rows[: most - 1], f"{rows[most - 1].rstrip()} ..."]
