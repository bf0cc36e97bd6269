"""`gridmap report`: the report for client and archive."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("report", short_help="Write the report of a map.")
@click.argument("out", type=click.Path(path_type=Path), metavar="[OUT]", required=False)
@click.option(
    "--template",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder of your words, layout, logo and figures.",
)
@click.option("--date", "day", metavar="YYYY-MM-DD", help="Date of the report; without one it has none.")
@click.option(
    "--new-template",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write gridmap's own template, to be edited.",
)
def command(out: Path | None, template: Path | None, day: str | None, new_template: Path | None) -> int:
    """Write the report of the map in OUT: report.pdf (tagged, PDF/A), report.html and tables as CSV in report/.

    What a person accepted, rejected, drew or said in features.gpkg is in it. The same map and template give the same
    bytes.

    \b
    Examples:
      gridmap report map
      gridmap report --new-template our-report
      gridmap report map --template our-report --date 2026-05-17
    """
    import gridmap
    from gridmap.deliver.caution import CAUTION
    from gridmap.errors import EXIT_DONE

    if new_template is not None:
        gridmap.report_template(new_template)
        click.echo(f"A template to edit is in {new_template}; README.txt there says what each file does.")
        if out is None:
            return EXIT_DONE
    if out is None:
        raise click.UsageError("Name the folder of a finished map: gridmap report OUT.")
    written = gridmap.report(out, template=template, date=day)
    click.echo("Written:")
    for path in written[:2]:
        click.echo(f"  {path}")
    click.echo(f"  {out / 'report'}   {len(written) - 2} tables and figures")
    click.echo(f"\n{CAUTION}")
    return EXIT_DONE
