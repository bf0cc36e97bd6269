"""`gridmap plan` as a person or a script calls it."""

import json

import pytest
from click.testing import CliRunner

from gridmap.cli.main import cli

PIPE = ["plan", "--shape", "line", "--material", "metal", "--size-m", "0.1", "--depth-m", "1", "--sides-m", "20", "10",
        "--antenna", "400:0.15", "--antenna", "200:0.3"]  # fmt: skip
MOIST = ["--medium", "topsoil", "--wetness", "moist"]


def test_json_is_all_that_is_printed():
    """A script gets figures and lines, and nothing else."""
    done = CliRunner().invoke(cli, [*PIPE, *MOIST, "--json"], standalone_mode=False)
    record = json.loads(done.output)
    assert done.return_value == 0
    assert record["seen"] == "yes"
    assert record["figures"]["line_spacing_m"]["value"] == 0.25
    assert len(record["lines"]) == 122


def test_what_cannot_be_seen_is_said_first(tmp_path):
    """No comes plainly, before any figure, with exit code 1; the caution stands at the end."""
    wet = ["--medium", "clay", "--wetness", "wet", "--depth-m", "2"]
    done = CliRunner().invoke(cli, [*PIPE, *wet, "-o", str(tmp_path / "plan")], standalone_mode=False)
    assert done.return_value == 1
    assert done.output.startswith("No: it cannot be seen")
    assert "not proof that nothing is buried" in done.output
    assert sorted(p.name for p in (tmp_path / "plan").iterdir()) == [
        "field-sheet.pdf", "lines", "plan.json", "site.toml", "stakes.csv",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["plan"], "Say what is sought"),
        ([*PIPE, "--antenna", "400"], "such as 400:0.15"),
        (PIPE, "[ground] medium: is missing"),
        ([*PIPE, *MOIST, "--trend", "north"], "x, y, any"),
        (["plan", "absent.toml"], "there is no such file"),
    ],
)
def test_mistakes_are_named(words, said):
    """Each message says what to write instead."""
    done = CliRunner().invoke(cli, words, standalone_mode=False)
    assert said in str(done.exception)
