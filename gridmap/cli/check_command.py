"""`gridmap check`: complete, or walk again, before leaving the site."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gridmap.cli.progress import Progress

if TYPE_CHECKING:
    from gridmap.check.finding import Finding
    from gridmap.pipeline.check_site import CheckResult

SHOWN = 30
"""Findings printed: what fits a page."""


@click.command("check", short_help="Judge the lines before leaving the site: complete, or walk again.")
@click.argument("what", type=click.Path(path_type=Path), metavar="SITE.toml|FOLDER")
@click.option(
    "--data", type=click.Path(path_type=Path), help="Folder of the line files, when not beside the site file."
)
@click.option("--depth-m", type=float, metavar="N", help="Depth that is wanted; else the site file's.")
@click.option(
    "--frequency-mhz", type=float, metavar="N", help="Of the antenna, for a folder without a site file."
)
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Folder for the page, the papers and the figures."
)
@click.option(
    "--replace",
    "replace_old",
    is_flag=True,
    help="Replace an earlier check that stands in the output folder.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the verdict as JSON, and nothing else.")
@click.option("--all", "everything", is_flag=True, help="Print every finding, notes too.")
def command(
    what: Path,
    data: Path | None,
    depth_m: float | None,
    frequency_mhz: float | None,
    out: Path | None,
    replace_old: bool,
    as_json: bool,
    everything: bool,
) -> int:
    """Judge the lines of a survey while the crew is still there: complete, or walk again, and where.

    A folder without a site file works too; the verdict says what cannot be known then. Exit code 1: something must be
    walked again. With --out a page for the tablet, the verdict on one page and a list with boxes to tick are written.

    \b
    Examples:
      gridmap check site.toml
      gridmap check site.toml -o check
      gridmap check site.toml --depth-m 1.5
      gridmap check export-folder --frequency-mhz 400
    """
    import gridmap
    from gridmap.errors import EXIT_ATTENTION, EXIT_DONE

    result = gridmap.check_site(
        what, data=data, depth_m=depth_m, frequency_mhz=frequency_mhz, out=out, replace_old=replace_old,
        progress=Progress(),
    )  # fmt: skip
    if as_json:
        from gridmap.check.finding import verdict_record
        from gridmap.deliver.strict_json import to_text

        click.echo(to_text(verdict_record(result.verdict)), nl=False)
    else:
        _print(result, everything)
        if out is not None:
            _print_files(out)
    return EXIT_DONE if result.verdict.complete else EXIT_ATTENTION


def _print_files(out: Path) -> None:
    from gridmap.deliver.check_folder import CHECK_FILES

    click.echo(f"\nFiles are in {out}")
    for name, what in CHECK_FILES:
        click.echo(f"  {name:<16} {what}")


def _print(result: CheckResult, everything: bool) -> None:
    from gridmap.check.finding import KINDS
    from gridmap.deliver.caution import CAUTION

    verdict = result.verdict
    again = [f for f in verdict.findings if f.severity == "walk again"]
    lines = list(dict.fromkeys(f.line for f in again if f.line))
    head = "COMPLETE" if verdict.complete else "WALK AGAIN"
    names = (
        f": {', '.join(lines[:12])}{f' and {len(lines) - 12} more' if len(lines) > 12 else ''}"
        if lines
        else ""
    )
    click.echo(f"{head}{names}   ({verdict.site})")
    for words in verdict.site_words:
        click.echo(f"  {words[0].upper()}{words[1:]}.")
    shown = [f for f in verdict.findings if everything or f.severity != "note"]
    room = len(shown) if everything else SHOWN
    told: set[str] = set()
    for severity, title in (
        ("walk again", "Walk again before leaving"),
        ("attention", "Needs attention"),
        ("note", "For the record"),
    ):
        mine = [f for f in shown[:room] if f.severity == severity]
        if mine:
            click.echo(f"\n{title}")
        for f in mine:
            where = _where(f, result.setup.placed)
            click.echo(f"  {f.line or 'survey':<8} {where:<19} {KINDS[f.kind]}: {f.words.rstrip('.')}.")
            if f.what_to_do and f.what_to_do not in told:
                click.echo(f"{'':<29} -> {f.what_to_do}")
            told.add(f.what_to_do)
    left = len(verdict.findings) - len(shown[:room])
    if left:
        click.echo(f"\n{left} more findings, mostly notes: --all shows them.")
    click.echo(f"\n{CAUTION}")


def _where(f: Finding, placed: bool) -> str:
    if f.first_trace is None:
        return "whole line" if f.line else ""
    if not placed:
        from gridmap.check.finding_words import stretch_words

        return stretch_words(f, placed)
    if f.to_m - f.from_m < 0.005:
        return f"at {f.from_m:.2f} m"
    return f"{f.from_m:.2f} to {f.to_m:.2f} m"
