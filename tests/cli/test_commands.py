"""Every command through its real entry point."""

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from gridmap._version import VERSION
from gridmap.cli.main import COMMANDS, cli
from gridmap.cli.progress import Progress

ROOT = Path(__file__).parents[2]
DEMO_LINES = sorted((ROOT / "gridmap" / "demo_data" / "lines").glob("*.sgy"))


def gridmap(*words, **more):
    return subprocess.run(
        [sys.executable, "-m", "gridmap", *map(str, words)],
        capture_output=True,
        text=True,
        timeout=600,
        cwd=ROOT,
        **more,
    )


def test_version():
    """--version prints the version."""
    assert VERSION in gridmap("--version").stdout


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_every_command_has_examples(name):
    """Each command's help ends in examples that begin with `gridmap`."""
    done = CliRunner().invoke(cli, [name, "--help"])
    assert done.exit_code == 0
    assert f"gridmap {name}" in done.output.split("Examples:")[1]


def test_help_names_every_command():
    """The front page lists all of them and the exit codes."""
    text = CliRunner().invoke(cli, ["--help"]).output
    assert all(name in text for name in COMMANDS)
    assert "Exit codes" in text


def test_unknown_command_is_the_users_mistake():
    """Exit code 2, no traceback."""
    done = gridmap("mapp")
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_info_prints_a_table():
    """Traces, samples and window of two files, one row each."""
    done = gridmap("info", *DEMO_LINES[:2])
    assert done.returncode == 0
    assert "B001" in done.stdout
    assert "B002" in done.stdout
    assert "200" in done.stdout


def test_info_of_a_bad_file_says_so_and_shows_the_others(tmp_path):
    """One bad file does not hide a good one; exit code 2."""
    bad = tmp_path / "bad.sgy"
    bad.write_bytes(b"")
    done = gridmap("info", DEMO_LINES[0], bad)
    assert done.returncode == 2
    assert "B001" in done.stdout
    assert "bad.sgy" in done.stderr


def test_new_writes_a_site_file_that_asks_for_what_is_missing(tmp_path):
    """The file is filled from the lines, never replaced, and refused by map until edited."""
    (tmp_path / "lines").mkdir()
    for path in DEMO_LINES[:4]:
        (tmp_path / "lines" / path.name).write_bytes(path.read_bytes())
    done = gridmap("new", tmp_path)
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "site.toml").read_text()
    assert "lines/" in text
    assert "B0" in text
    assert gridmap("new", tmp_path).returncode == 2
    assert (tmp_path / "site.toml").read_text() == text
    refused = gridmap("map", tmp_path / "site.toml", "-o", tmp_path / "out")
    assert refused.returncode == 2
    assert "site.toml" in refused.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_prints_a_script(shell):
    """What a shell needs, naming the program."""
    done = CliRunner().invoke(cli, ["completion", shell])
    assert done.exit_code == 0
    assert "_GRIDMAP_COMPLETE" in done.output


def test_completion_completes_commands():
    """`gridmap ma<Tab>` gives map, through click's own protocol."""
    import os

    env = {**os.environ, "_GRIDMAP_COMPLETE": "bash_complete", "COMP_WORDS": "gridmap ma", "COMP_CWORD": "1"}
    code = "import sys; sys.argv=['gridmap']; from gridmap.cli.main import cli; cli.main(prog_name='gridmap')"
    done = subprocess.run(
        [sys.executable, "-c", code], env=env, capture_output=True, text=True, cwd=ROOT, timeout=60
    )
    assert "map" in done.stdout


def test_progress_prints_a_line_a_stage_where_there_is_no_terminal():
    """Log files get one line a stage."""
    import io

    stream = io.StringIO()
    show = Progress(stream)
    for stage, share in (("reading", 0.0), ("reading", 0.2), ("imaging", 0.5), ("done", 1.0)):
        show(stage, share)
    assert [row.split()[-1] for row in stream.getvalue().splitlines()] == ["reading", "imaging", "done"]


@pytest.mark.slow
def test_demo_ends_in_plain_words(tmp_path):
    """The demo finds its pipe and its tank where they were put, and says what to open and the caution."""
    import json
    import math
    import re

    done = gridmap("demo", "-o", tmp_path / "demo")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "index.html" in done.stdout
    assert "not proof" in done.stdout
    ground = json.loads((ROOT / "gridmap" / "demo_data" / "ground.json").read_text())
    tank = next(o for o in ground["objects"] if "tank" in o["id"])
    found = [
        tuple(map(float, m))
        for m in re.findall(
            r"echo with an area.*?near x ([\d.]+), y ([\d.]+) m; top ([\d.]+) m deep", done.stdout
        )
    ]
    corners = tank["outline_local_m"]
    centre = [sum(c[i] for c in corners) / 4 for i in range(2)]
    near = [d for x, y, d in found if math.hypot(x - centre[0], y - centre[1]) < 0.3]
    assert near
    assert abs(near[0] - tank["depth_top_m"]) < 0.07
