"""What is not Python but is needed at run time goes into the package."""

import fnmatch
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_every_data_file_is_named_in_pyproject():
    """Each file in gridmap that is no module matches a pattern of package-data, so that a wheel holds it."""
    by_package = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["package-data"]
    patterns = [
        "/".join([*package.split(".")[1:], pattern])
        for package, patterns in by_package.items()
        for pattern in patterns
    ]
    inside = [
        path.relative_to(ROOT / "gridmap")
        for path in (ROOT / "gridmap").rglob("*")
        if path.is_file() and path.suffix not in (".py", ".pyc") and not path.name.endswith((".nbc", ".nbi"))
    ]
    assert len(inside) > 40
    flat = [pattern.replace("**/", "") for pattern in patterns]
    for path in inside:
        assert any(fnmatch.fnmatchcase(path.as_posix(), pattern) for pattern in flat), path


def test_demo_survey_is_small_enough_to_ship():
    """All that comes with the demo is at most 4 MB (issue: the demo survey)."""
    size = sum(path.stat().st_size for path in (ROOT / "gridmap" / "demo_data").rglob("*") if path.is_file())
    assert size <= 4_000_000
