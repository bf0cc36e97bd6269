"""`gridmap watch`: each line judged as it arrives from the recorder."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from gridmap.check.arrivals import Event
    from gridmap.pipeline.watch import Judged


@click.command("watch", short_help="Judge each line as its file arrives, while the crew is still there.")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option(
    "--site", type=click.Path(path_type=Path), metavar="SITE.toml",
    help="The site file; without it lines are judged by themselves.",
)  # fmt: skip
@click.option(
    "--frequency-mhz", type=float, metavar="N",
    help="Of the antenna, without a site file; else told from the first line.",
)  # fmt: skip
@click.option("--once", is_flag=True, help="Judge what is there, and stop when all of it has come to rest.")
@click.option(
    "--every", type=click.FloatRange(0.1, 60.0), default=1.0, show_default=True, metavar="SECONDS",
    help="How often the folder is looked at.",
)  # fmt: skip
@click.option("--bell", is_flag=True, help="Ring when a line must be walked again.")
def command(
    folder: Path, site: Path | None, frequency_mhz: float | None, once: bool, every: float, bell: bool
) -> int:
    """Watch the folder that the recorder exports to, and say of each line at once whether it can stay.

    A file is judged when it has rested for two seconds and is whole; one that grows again is judged again. Folders on a
    stick or a network share may come and go. Ctrl-C ends the watch with a summary; the exit code is 1 where a line must
    be walked again, a file is not whole or a line is there twice.

    \b
    Examples:
      gridmap watch E:/export
      gridmap watch E:/export --site site.toml --bell
      gridmap watch lines --once
    """
    import gridmap
    from gridmap.errors import EXIT_ATTENTION, EXIT_DONE
    from gridmap.pipeline.watch_words import needs_attention, summary_words

    def tell(name: str, what: Judged | Event) -> None:
        _tell(name, what, bell)

    if not once and folder.is_dir():
        click.echo(f"Watching {folder}. Each line is judged as it arrives; Ctrl-C ends with a summary.")
    rows = gridmap.watch(folder, tell, site_file=site, frequency_mhz=frequency_mhz, once=once, every_s=every)
    click.echo("")
    for line in summary_words(rows):
        click.echo(line)
    if rows:
        click.echo(f"\nBefore leaving, judge the lines together: gridmap check {site or folder} -o check")
    return EXIT_ATTENTION if needs_attention(rows) else EXIT_DONE


def _tell(name: str, what: Judged | Event, bell: bool) -> None:
    from gridmap.pipeline.watch import Judged
    from gridmap.pipeline.watch_words import event_words, judged_words

    at = time.strftime("%H:%M:%S")
    if not isinstance(what, Judged):
        click.echo(f"{at}  {event_words(what)}")
        return
    first, *more = judged_words(name, what)
    again = what.severity == "walk again"
    click.secho(f"{at}  {first}", bold=again, reverse=again)
    for line in more:
        click.echo(f"          {line}")
    if bell and again:
        click.echo("\a", nl=False)
