"""`gridmap demo`: the whole job on the survey that comes with the package."""

from __future__ import annotations

from pathlib import Path

import click

from gridmap.cli.progress import Progress
from gridmap.cli.report import print_result


@click.command("demo", short_help="Map the survey that comes with gridmap.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), default=Path("gridmap-demo"), show_default=True,
    help="Folder for the result; new or empty.",
)  # fmt: skip
@click.option(
    "--replace", "replace_old", is_flag=True, help="Replace an earlier map that stands in the output folder."
)
def command(out: Path, replace_old: bool) -> int:
    """Map the small invented survey that comes with gridmap, and say what was found and what to open.

    \b
    Examples:
      gridmap demo
      gridmap demo -o look-here
    """
    import gridmap

    result = gridmap.demo(out, replace_old=replace_old, progress=Progress())
    return print_result(result, "The demo survey is invented and its data are simulated.")
