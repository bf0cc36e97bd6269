"""`gridmap lines` through the shipped command."""

from click.testing import CliRunner
from small_survey import write_small_survey

from gridmap.cli.main import cli


def test_table_and_plan(tmp_path):
    """Every line has a row, the plan is written, and notes say what cannot be told."""
    site = write_small_survey(tmp_path)
    plan = tmp_path / "plan.png"
    result = CliRunner().invoke(cli, ["lines", str(site), "--picture", str(plan)], standalone_mode=False)
    assert result.exception is None
    names = sorted(p.stem for p in tmp_path.rglob("*.sgy"))
    rows = [line.split()[0] for line in result.output.splitlines() if line.strip()]
    assert names and set(names) <= set(rows)
    assert plan.is_file()


def test_corrections_table_is_checked(tmp_path):
    """A value that is none of apply, report, off is refused and names them."""
    site = write_small_survey(tmp_path)
    site.write_text(site.read_text() + '\n[corrections]\nstagger = "maybe"\n')
    result = CliRunner().invoke(cli, ["lines", str(site)], standalone_mode=False)
    assert "apply" in str(result.exception) and "stagger" in str(result.exception)
