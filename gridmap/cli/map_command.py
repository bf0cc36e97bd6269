"""`gridmap map`: the main job."""

from __future__ import annotations

from pathlib import Path

import click

from gridmap.cli.progress import Progress
from gridmap.cli.report import print_result


@click.command("map", short_help="Map a survey.")
@click.argument("site", type=click.Path(path_type=Path), metavar="SITE.toml")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), required=True, help="Folder for the result; new or empty."
)
@click.option(
    "--data", type=click.Path(path_type=Path), help="Folder of the line files, when not beside the site file."
)
@click.option(
    "--replace",
    "replace_old",
    is_flag=True,
    help="Replace an earlier map that stands in the output folder;"
    " what a person did to its features.gpkg is kept.",
)
@click.option(
    "--edits",
    type=click.Path(path_type=Path),
    metavar="FILE.gpkg",
    help="Take what a person drew, accepted or rejected from this file too.",
)
@click.option(
    "--work",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder for what is made on the way, from which a stopped job goes on; OUT.work where not given.",
)
@click.option("--keep-work", is_flag=True, help="Keep that folder when the job is done.")
@click.option(
    "--memory",
    metavar="SIZE",
    help="Most that the job may take, such as 2GiB; where not given, most of what the machine has.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="dask.distributed scheduler, such as tcp://10.0.0.5:8786, whose workers share a large volume.",
)
def command(
    site: Path,
    out: Path,
    data: Path | None,
    replace_old: bool,
    edits: Path | None,
    work: Path | None,
    keep_work: bool,
    memory: str | None,
    scheduler: str | None,
) -> int:
    """Map a survey: read the lines that SITE.toml names, and write slices, volume, layers, 3D and a page.

    \b
    Examples:
      gridmap map site.toml -o map
      gridmap map court.toml --data E:/lines -o court-map
      gridmap map site.toml -o map --replace
      gridmap map site.toml -o new-map --edits map/features.gpkg
      gridmap map site.toml -o map --work /fast/disk/court.work
      gridmap map site.toml -o map --work /shared/site.work --scheduler tcp://10.0.0.5:8786

    A job that was stopped, for whatever reason, goes on where it was when the same command is given again.
    """
    import gridmap

    result = gridmap.map(
        site,
        out,
        data=data,
        replace_old=replace_old,
        edits=edits,
        progress=Progress(),
        work=work,
        keep_work=keep_work,
        memory=memory,
        scheduler=scheduler,
    )
    return print_result(result)
