"""`gridmap lines`: every line in a table and a plan, with what looks wrong."""

from __future__ import annotations

from pathlib import Path

import click

from gridmap.cli.progress import Progress


@click.command("lines", short_help="Say what is known of every line, and what looks wrong.")
@click.argument("site", type=click.Path(path_type=Path), metavar="SITE.toml")
@click.option("-p", "--picture", type=click.Path(path_type=Path), help="PNG file for the plan of all lines.")
@click.option(
    "--data", type=click.Path(path_type=Path), help="Folder of the line files, when not beside the site file."
)
def command(site: Path, picture: Path | None, data: Path | None) -> int:
    """List every line: way walked, length, trace interval, gaps, corrections, misfit at crossings; draw a plan.

    \b
    Examples:
      gridmap lines site.toml
      gridmap lines site.toml --picture lines.png
    """
    import gridmap
    from gridmap.errors import EXIT_ATTENTION, EXIT_DONE
    from gridmap.pipeline.lines import lines_table

    result = gridmap.lines(site, picture, data=data, progress=Progress())
    click.echo(lines_table(result))
    if result.notes:
        click.echo("\nNotes")
    for line in result.notes:
        click.echo(f"  - {line}")
    if result.warnings:
        click.echo("\nNeeds attention")
    for line in result.warnings:
        click.echo(f"  ! {line}")
    if picture is not None:
        click.echo(f"\nThe plan is in {picture}")
    return EXIT_ATTENTION if result.warnings else EXIT_DONE
