"""`gridmap info`: what is in line files."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("info", short_help="Say what is in line files.")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
def command(files: tuple[Path, ...]) -> int:
    """Say in a table what each line file holds: traces, samples, time window, byte order, co-ordinates, gaps.

    \b
    Examples:
      gridmap info lines/L001.sgy
      gridmap info lines/*.sgy
    """
    import gridmap
    from gridmap.errors import EXIT_DONE, EXIT_INPUT
    from gridmap.read.info import as_table

    known, refused = gridmap.info(files)
    if known:
        click.echo(as_table(known))
    for message in refused:
        click.echo(f"gridmap: {message}", err=True)
    return EXIT_INPUT if refused else EXIT_DONE
