"""The field sheet: what is on paper, its fonts, and that it is the same each time."""

import re
import shutil
import subprocess

import pytest

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.field_sheet import write_field_sheet
from gridmap.deliver.sheet_words import CHECKLISTS
from gridmap.plan.survey import plan_survey
from gridmap.plan.tables import read_request

needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")


@pytest.fixture(scope="module")
def plan():
    document = {
        "site": {
            "name": "Tannery $x_2$ & yard", "crs": "EPSG:25832",
            "corners_map_m": [[563400.0, 5934100.0], [563418.0, 5934106.0], [563396.0, 5934112.0]],
        },
        "sought": {"shape": "body", "material": "metal", "size_m": 1.2, "depth_m": 1.5},
        "ground": {"medium": "silt", "wetness": "wet"},
        "antenna": [{"frequency_mhz": 400, "separation_m": 0.15}],
    }  # fmt: skip
    return plan_survey(read_request(document, "options"))


@pytest.fixture(scope="module")
def sheet(plan, tmp_path_factory):
    path = tmp_path_factory.mktemp("sheet") / "sheet.pdf"
    write_field_sheet(path, plan)
    return path


def test_fonts_are_inside_and_bytes_repeat(plan, sheet, tmp_path):
    """TrueType programs are embedded (FontFile2 of the PDF standard), none is drawn as Type 3, and no date is in it."""
    raw = sheet.read_bytes()

    programs = raw.count(b"/FontFile2")
    assert raw.startswith(b"%PDF-")
    assert programs >= 2
    assert b"/Type3" not in raw
    assert b"CreationDate" not in raw

    again = tmp_path / "again.pdf"
    write_field_sheet(again, plan)
    assert again.read_bytes() == raw


@needs_poppler
def test_everything_is_on_paper_as_another_program_reads_it(plan, sheet):
    """Each line and stake, each checklist row, each figure, the verdict, and the caution on each page."""
    text = subprocess.run(
        ["pdftotext", "-layout", sheet, "-"], capture_output=True, text=True, check=True
    ).stdout
    pages = text.split("\f")[:-1]
    flat = " ".join(text.split())
    assert len(pages) >= 4
    for page in pages:
        assert " ".join(CAUTION.split()) in " ".join(page.split())
    for line in plan.lines:
        row = rf"{line.name} +{line.start_m[0]:.2f}, {line.start_m[1]:.2f} +{line.end_m[0]:.2f}, {line.end_m[1]:.2f}"
        assert re.search(row, text), line.name
        east, north = plan.frame.map_of(line.end_m)
        assert f"{east:.3f} {north:.3f}" in flat
    for _, rows in CHECKLISTS:
        assert all(" ".join(row.split()) in flat for row in rows)
    for figure in plan.figures:
        assert f"{figure.label}: {figure.text}" in flat
        assert figure.formula in flat
    assert "Tannery $x_2$ & yard" in flat
    assert "Perhaps: it may be seen" in flat


@needs_poppler
def test_no_text_runs_off_the_paper(sheet):
    """All words lie within A4, 5 mm from its edges."""
    words = subprocess.run(
        ["pdftotext", "-bbox", sheet, "-"], capture_output=True, text=True, check=True
    ).stdout
    boxes = re.findall(r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"', words)
    edge = 5 / 25.4 * 72
    assert len(boxes) > 200
    for x0, y0, x1, y1 in (map(float, box) for box in boxes):
        assert min(x0, y0) > edge
        assert x1 < 595.3 - edge
        assert y1 < 841.9 - edge
