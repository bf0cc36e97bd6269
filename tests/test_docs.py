"""The words that people read agree with the program."""

import re
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

from gridmap.deliver.folder import FILES
from gridmap.site.keys import KEYS
from gridmap.velocity.media import MEDIA

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


def test_every_work_cited_in_the_program_is_in_the_references():
    """An author and a year in gridmap, such as Dix 1955, stand together in an entry of docs/references.md."""
    entries = re.split(r"^- ", (ROOT / "docs" / "references.md").read_text(encoding="utf-8"), flags=re.M)[1:]
    heads = [entry.split(":")[0] for entry in entries]
    cited = re.compile(r"\b([A-Z][a-z]+)(?: et al\.| (?:and|&) [A-Z][a-z]+)?,? \(?((?:19|20)\d\d)\b(?!-)")
    found = 0
    for module in sorted((ROOT / "gridmap").rglob("*.py")):
        for name, year in cited.findall(" ".join(module.read_text(encoding="utf-8").split())):
            found += 1
            assert any(name in head and year in head for head in heads), f"{module.name}: {name} {year}"
    assert found > 15


def test_every_medium_is_documented():
    """docs/velocity.md lists each medium that a site file may name, with its velocity."""
    text = (ROOT / "docs" / "velocity.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([a-z ]+) \| ([\d.]+) \| ([\d.]+) \|$", text, flags=re.M)
    assert rows == [(m.name, f"{m.velocity_m_per_ns:.3f}", f"{m.sd_m_per_ns:.3f}") for m in MEDIA]


def test_every_file_of_the_output_folder_is_documented():
    """docs/output-folder.md names each path that the program lists as delivered."""
    text = (ROOT / "docs" / "output-folder.md").read_text(encoding="utf-8")
    for path, _ in FILES:
        assert f"`{path}" in text or f"`{path.split('/')[0]}/`" in text, path


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
    """.ci/run calls exactly scripts/test, then scripts/lint, and lets no browser test skip."""
    rows = [
        r
        for r in (ROOT / ".ci" / "run").read_text().splitlines()
        if r and not r.startswith(("#", "set", "cd", "export CI"))
    ]
    assert rows == ["scripts/test", "scripts/lint"]
    assert "export CI=true" in (ROOT / ".ci" / "run").read_text()


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
