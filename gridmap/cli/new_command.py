"""`gridmap new`: a site file to edit rather than write."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("new", short_help="Write a site file for a folder of line files.")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    help="Where to write it; default FOLDER/site.toml, never replaced.",
)
def command(folder: Path, out: Path | None) -> int:
    """Write a commented site file for the line files in FOLDER, filled with all that the files say themselves.

    \b
    Examples:
      gridmap new lines
      gridmap new . -o court.toml
    """
    import gridmap

    path, todo = gridmap.new(folder, out)
    click.echo(f"Wrote {path}. Still to fill in:")
    for item in todo:
        click.echo(f"  - {item}")
    click.echo(f"Then: gridmap map {path} -o map")
    return 0
