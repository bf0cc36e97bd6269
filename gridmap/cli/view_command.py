"""`gridmap view`: the scene in a window, or drawn without one."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("view", short_help="Show the 3D scene of a map.")
@click.argument("out", type=click.Path(path_type=Path), metavar="OUT")
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="FILE.png", help="Draw a picture; no window."
)
@click.option(
    "--turntable",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw the scene from all sides; .gif and animated .png always, .mp4 with imageio-ffmpeg; no window.",
)
@click.option("--at", "at_m", type=float, metavar="METRES", help="Slice shown first; without it the deepest.")
def command(out: Path, picture: Path | None, turntable: Path | None, at_m: float | None) -> int:
    """Show the scene of the map in OUT in a window: slices with a slider for depth, features, lines walked.

    Drag to turn, wheel to come nearer, r for the first view, q to close. What a person rejected is left out; shapes
    are those of the last run. For a browser, open index.html or gridmap review instead.

    \b
    Examples:
      gridmap view map
      gridmap view map --picture scene.png --at 0.8
      gridmap view map --turntable scene.gif
    """
    import gridmap
    from gridmap.deliver.caution import CAUTION
    from gridmap.errors import EXIT_DONE

    for path in gridmap.view(out, picture=picture, turntable=turntable, at_m=at_m):
        click.echo(f"Written: {path}")
    click.echo(f"\n{CAUTION}")
    return EXIT_DONE
