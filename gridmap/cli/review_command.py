"""`gridmap review`: look at a finished map, judge and draw features."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("review", short_help="Look at a map, judge and draw features.")
@click.argument("out", type=click.Path(path_type=Path), metavar="OUT")
@click.option(
    "--base", type=click.Path(path_type=Path), metavar="FILE.tif",
    help="Site plan or orthophoto (GeoTIFF) to lie under the slices.",
)  # fmt: skip
@click.option(
    "--port", type=click.IntRange(1, 65535), help="Port on this machine; by itself one that is free."
)
@click.option("--no-browser", is_flag=True, help="Print the address and open nothing.")
def command(out: Path, base: Path | None, port: int | None, no_browser: bool) -> int:
    """Open the review page of the map in OUT: slices, sections, features to accept, reject, move and draw.

    The page is served to this machine alone and asks nothing from any other. What you say is saved at once in
    OUT/features.gpkg, and the next `gridmap map` keeps it. Ctrl+C ends it.

    \b
    Examples:
      gridmap review map
      gridmap review map --base orthophoto.tif
      gridmap review map --no-browser --port 8080
    """
    from gridmap.page.review import open_review
    from gridmap.page.server import make_server

    review = open_review(out, base)
    with make_server(review, port) as server:
        click.echo(f"Review of {out}:\n  {server.address}")
        click.echo("Changes are saved in features.gpkg at once. Ctrl+C ends the review.")
        if not no_browser:
            import webbrowser

            webbrowser.open(server.address)
        try:
            server.serve_forever()
        except KeyboardInterrupt:
            click.echo("\nReview ended; every change is saved.")
    return 0
