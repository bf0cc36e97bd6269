"""`gridmap score`: a map against known ground."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("score", short_help="Compare a map with known ground.")
@click.argument("out", type=click.Path(path_type=Path), metavar="OUT")
@click.argument("truth", type=click.Path(path_type=Path), metavar="TRUTH.gpkg")
@click.option(
    "--near",
    type=float,
    default=0.15,
    show_default=True,
    metavar="METRES",
    help="A line found this close to a known one has found it.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
def command(out: Path, truth: Path, near: float, as_json: bool) -> int:
    """Compare the map in OUT with known ground: a trial trench, a test site, an as-built plan.

    TRUTH.gpkg has layers `linear` and `outlines`, as far as known, with the field depth_top_m. Told are recall,
    precision, lateral error, depth error and overlap of outlines.

    \b
    Examples:
      gridmap score map trench.gpkg
      gridmap score map as-built.gpkg --near 0.3 --json
    """
    import gridmap
    from gridmap.deliver.strict_json import plain, to_text
    from gridmap.errors import EXIT_DONE
    from gridmap.pipeline.score_map import score_words

    score = gridmap.score(out, truth, near_m=near)
    if as_json:
        click.echo(to_text(plain(score)).rstrip())
    else:
        click.echo(score_words(score, near))
    return EXIT_DONE
