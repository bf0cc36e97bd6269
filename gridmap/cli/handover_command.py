"""`gridmap handover`: a folder for a GIS or CAD office."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("handover", short_help="Make a folder for a GIS or CAD office.")
@click.argument("out", type=click.Path(path_type=Path), metavar="OUT")
@click.option(
    "-o",
    "--out",
    "folder",
    type=click.Path(path_type=Path),
    required=True,
    help="Folder to make; new or empty.",
)
@click.option("--zip", "packed", is_flag=True, help="Pack it too, as one file beside it.")
@click.option(
    "--template",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Report template: company, contact, date.",
)
@click.option(
    "--date", "day", metavar="YYYY-MM-DD", help="Date for the metadata; without one they say unknown."
)
def command(out: Path, folder: Path, packed: bool, template: Path | None, day: str | None) -> int:
    """Put what a GIS or CAD office needs of the map in OUT into one folder.

    Layers and rasters with styles, metadata of each, a README for the receiver, fingerprints. What a person did to
    features.gpkg is in it.

    \b
    Examples:
      gridmap handover map -o mill-lane-gis
      gridmap handover map -o mill-lane-gis --zip --date 2026-05-17
    """
    import gridmap
    from gridmap.deliver.caution import CAUTION
    from gridmap.errors import EXIT_ATTENTION, EXIT_DONE

    written, notes = gridmap.handover(out, folder, packed=packed, template=template, date=day)
    for path in written:
        click.echo(f"Written: {path}")
    click.echo("README.txt in it says what to open first.")
    for note in notes:
        click.echo(f"  ! {note}")
    click.echo(f"\n{CAUTION}")
    return EXIT_ATTENTION if any("stakeout" in note for note in notes) else EXIT_DONE
