"""What a finished run says: what was found, what to look at, what to open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from gridmap.pipeline.map_site import MapResult

SHOWN_NOTES = 12


def print_result(result: MapResult, opening: str = "") -> int:
    """Print a run's result in plain words; return the exit code.

    Parameters
    ----------
    result : MapResult
        From `gridmap.map_site`.
    opening : str
        Words to begin with.

    Returns
    -------
    int
        0, or 1 where something needs attention.
    """
    from gridmap.deliver.caution import CAUTION, NOTHING_FOUND
    from gridmap.errors import EXIT_ATTENTION, EXIT_DONE

    velocity = result.velocity
    click.echo("")
    if opening:
        click.echo(opening + "\n")
    click.echo("What was found" if result.summary else NOTHING_FOUND)
    for line in result.summary:
        click.echo(f"  - {line}")
    click.echo(
        f"\nDepths rest on {velocity.mean_m_per_ns():.4f} m/ns (1 sigma {velocity.sd_m_per_ns:.4f}), "
        f"{velocity.source}."
    )
    click.echo("\nHow it was made")
    for note in result.notes[:SHOWN_NOTES]:
        click.echo(f"  - {note}")
    if len(result.notes) > SHOWN_NOTES:
        click.echo(f"  - and {len(result.notes) - SHOWN_NOTES} more notes in run.json")
    if result.warnings:
        click.echo("\nNeeds attention")
        for line in result.warnings:
            click.echo(f"  ! {line}")
    click.echo(f"\nFiles are in {result.out}. Open first:")
    click.echo(f"  {result.out / 'index.html'}   plan, radargrams and 3D, in any browser, offline")
    click.echo(f"  {result.out / 'slices.tif'}   all depth slices, in a GIS; features.gpkg beside it")
    click.echo(f"  {result.out / 'scene.glb'}    3D")
    click.echo(f"\nTo judge and draw what lies there: gridmap review {result.out}")
    click.echo(f"\n{CAUTION}")
    return EXIT_ATTENTION if result.warnings else EXIT_DONE
