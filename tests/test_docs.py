"""The words that people read agree with the program."""

import re
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

from gridmap.site.keys import KEYS

ROOT = Path(__file__).parents[1]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


def test_every_command_and_option_is_documented():
    """docs/commands.md is what the program prints; `python scripts/make_commands_page.py` writes it again."""
    made = runpy.run_path(str(ROOT / "scripts" / "make_commands_page.py"))
    assert made["PAGE"].read_text(encoding="utf-8") == made["page"]()


@pytest.mark.parametrize("table", KEYS)
def test_every_key_of_the_site_file_is_documented(table):
    """docs/site-file.md has a row for each key in its table's section, and no row for a key that is gone."""
    text = (ROOT / "docs" / "site-file.md").read_text(encoding="utf-8")
    section = re.split(r"^## ", text, flags=re.M)
    mine = next(s for s in section if s.startswith((f"`[{table}]`", f"`[[{table}]]`")))
    assert re.findall(r"^\| `(\w+)` \|", mine, flags=re.M) == list(KEYS[table])


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_between_files_lead_somewhere(page):
    """Relative links and pictures exist."""
    for target in re.findall(r"\]\(([^)#\s]+)\)", page.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_readme_opens_with_the_job_a_picture_and_two_commands():
    """First a paragraph, then a picture, then the two commands, which are scripts."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert (
        text.index("You walked")
        < text.index("![")
        < text.index("scripts/demo ")
        < text.index("scripts/test ")
    )
    for name in ("demo", "test", "setup-tests", "lint"):
        assert (ROOT / "scripts" / name).stat().st_mode & 0o111


def test_ci_calls_the_readmes_test_command():
    """.ci/run calls exactly scripts/test, then scripts/lint."""
    rows = [
        r
        for r in (ROOT / ".ci" / "run").read_text().splitlines()
        if r and not r.startswith(("#", "set", "cd"))
    ]
    assert rows == ["scripts/test", "scripts/lint"]


@pytest.mark.slow
def test_examples_run(tmp_path):
    """Each example prints what it promises, in the order in which a reader would run them."""
    out = tmp_path / "demo-out"
    said = {}
    for name in ("map_demo", "vertical_section", "velocity_evidence"):
        done = subprocess.run(
            [sys.executable, ROOT / "examples" / f"{name}.py", out],
            capture_output=True, text=True, timeout=300, env={**__import__("os").environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        said[name] = done.stdout
    assert "velocity 0.1" in said["map_demo"]
    depth = float(re.search(r"depth ([\d.]+) m", said["vertical_section"]).group(1))
    assert depth == pytest.approx(0.70, abs=0.07)
    assert "refused:" in said["velocity_evidence"]
