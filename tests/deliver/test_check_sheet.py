"""The check on paper: one page for the verdict, a list with boxes, read back by another program."""

import dataclasses
import re
import shutil
import subprocess

import pytest
from checked_survey import NAN, findings, made_page

from gridmap.check.finding import Finding
from gridmap.deliver.check_list import write_walk_again
from gridmap.deliver.check_sheet import write_check_sheet

needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")


def pages_of(path):
    text = subprocess.run(
        ["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    return [" ".join(page.split()) for page in text.split("\f")[:-1]]


@needs_poppler
def test_verdict_is_one_page_with_every_finding_above_a_note(tmp_path):
    """Verdict, site, counts, each finding with its stretch and what to do, the caution; nothing spills over."""
    write_check_sheet(tmp_path / "check.pdf", made_page().verdict)
    (page,) = pages_of(tmp_path / "check.pdf")
    for words in (
        "Check: Weir meadow", "Walk again", "2 to walk again, 2 to look at; 9 lines checked", "Y02 2.1 to 3.5 m",
        "Antenna lifted: antenna off the ground. Walk this stretch again.", "Y05 whole line", "survey",
        "not proof that nothing is buried",
    ):  # fmt: skip
        assert words in page
    assert "a little louder" not in page


@pytest.mark.slow
@needs_poppler
def test_verdict_stays_on_one_page_whatever_is_found(tmp_path):
    """Two hundred findings: the worst are told, the rest is counted, and the list holds every one to walk again."""
    many = [
        Finding(f"Y{k % 9 + 1:02d}", "gap", "walk again", 0.1 * (k % 30), 0.1 * (k % 30) + 0.5, 1, 9, (),
                f"{k} triggers missing", "Walk slower.")
        for k in range(200)
    ]  # fmt: skip
    verdict = made_page(found=many).verdict
    write_check_sheet(tmp_path / "check.pdf", verdict)
    (page,) = pages_of(tmp_path / "check.pdf")
    told = len(re.findall(r"triggers missing", page))
    assert 8 <= told < 200
    assert f"and {200 - told} more" in page
    write_walk_again(tmp_path / "list.pdf", verdict)
    text = " ".join(pages_of(tmp_path / "list.pdf"))
    assert {int(n) for n in re.findall(r"(\d+) triggers missing", text)} == set(range(200))


@needs_poppler
def test_list_says_line_stretch_place_why_and_what_to_do(tmp_path):
    """The place is where the line was walked: Y02 came back from y = 4 m, so 2.13 m along it lie at y = 1.87 m."""
    write_walk_again(tmp_path / "list.pdf", made_page().verdict)
    (page,) = pages_of(tmp_path / "list.pdf")
    assert "2.1 to 3.5 m from x 0.50, y 1.87 to x 0.50, y 0.58" in page
    assert "Why: Antenna lifted: antenna off the ground" in page
    assert "Do: Walk this stretch again." in page
    assert "burst" not in page


@needs_poppler
def test_list_shows_why_in_a_radargram_about_the_stretch(tmp_path):
    """Each entry has its picture: three times the stretch of 27 traces, the whole line of one without a stretch."""
    page = made_page()
    write_walk_again(tmp_path / "list.pdf", page.verdict, page.radargrams)
    listed = subprocess.run(
        ["pdfimages", "-list", tmp_path / "list.pdf"], capture_output=True, text=True, check=True
    )
    assert sum(" image " in row for row in listed.stdout.splitlines()) == 2
    (text,) = pages_of(tmp_path / "list.pdf")
    assert "trace 1 trace 81; down to 44 ns" in text  # the dead line; 119 samples of 0.4 ns, less 4 ns
    assert "trace 4 trace 81; down to 44 ns" in text
    write_walk_again(tmp_path / "again.pdf", page.verdict, page.radargrams)
    assert (tmp_path / "again.pdf").read_bytes() == (tmp_path / "list.pdf").read_bytes()


@needs_poppler
def test_complete_survey_says_so_on_both_papers(tmp_path):
    """Nothing to walk again is told in words, not by an empty page."""
    verdict = made_page(found=[f for f in findings() if f.severity == "note"]).verdict
    write_check_sheet(tmp_path / "check.pdf", verdict)
    write_walk_again(tmp_path / "list.pdf", verdict)
    assert "Complete" in pages_of(tmp_path / "check.pdf")[0]
    assert "Nothing must be walked again." in pages_of(tmp_path / "list.pdf")[0]


@needs_poppler
def test_names_are_printed_letter_by_letter_and_no_line_is_needed(tmp_path):
    """Dollar signs and braces start no formula; a survey of which nothing could be read has its page too."""
    verdict = made_page("$x_{2}$ & <b>", "Yard $\\frac{1}{0}$ {{SITE}}").verdict
    write_check_sheet(tmp_path / "check.pdf", verdict)
    (page,) = pages_of(tmp_path / "check.pdf")
    assert "Yard $\\frac{1}{0}$ {{SITE}}" in page
    assert "$x_{2}$" in page
    lost = Finding("Y01", "missing", "walk again", NAN, NAN, None, None, (), "no file", "Copy it.")
    bare = dataclasses.replace(verdict, lines=(), findings=(lost,))
    write_check_sheet(tmp_path / "bare.pdf", bare)
    write_walk_again(tmp_path / "bare-list.pdf", bare)
    assert "Line missing: no file" in pages_of(tmp_path / "bare.pdf")[0]


def test_fonts_are_inside_and_bytes_repeat(tmp_path):
    """TrueType programs are embedded, no date is in the file, and the same verdict gives the same bytes."""
    verdict = made_page().verdict
    for name in ("a.pdf", "b.pdf"):
        write_check_sheet(tmp_path / name, verdict)
    raw = (tmp_path / "a.pdf").read_bytes()
    assert raw == (tmp_path / "b.pdf").read_bytes()
    assert b"/FontFile2" in raw
    assert b"/Type3" not in raw
    assert b"CreationDate" not in raw
