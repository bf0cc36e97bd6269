"""`gridmap plan`: what can be seen, with which antenna, and where to walk."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from gridmap.plan.survey import Plan


def _antennas(texts: tuple[str, ...]) -> list[dict[str, float]]:
    """Read MHZ:METRES, as in 400:0.15."""
    found = []
    for text in texts:
        parts = text.split(":")
        try:
            mhz, metres = (float(part) for part in parts)
        except ValueError:
            raise click.BadParameter(
                f"{text!r} is not frequency and separation. Write them with a colon, such as 400:0.15.",
                param_hint="--antenna",
            ) from None
        found.append({"frequency_mhz": mhz, "separation_m": metres})
    return found


@click.command("plan", short_help="Plan a survey before walking it.")
@click.argument("request", type=click.Path(path_type=Path), metavar="[REQUEST.toml]", required=False)
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Folder for the plan; new or empty.")
@click.option(
    "--json", "as_json", is_flag=True, help="Print all figures and lines as JSON, and nothing else."
)
@click.option("--name", help="Name of the site.")
@click.option("--sides-m", nargs=2, type=float, metavar="X Y", help="Rectangle: metres along x, then y.")
@click.option(
    "--shape", metavar="SHAPE", help="line (pipe, wall), body (tank, grave) or layer (floor, rock)."
)
@click.option("--material", help="What it is, such as metal, air, 'plastic with water', brick.")
@click.option("--size-m", help="Diameter, shorter side or thickness.", type=float, metavar="N")
@click.option("--depth-m", help="Greatest depth of its top.", type=float, metavar="N")
@click.option("--trend", metavar="AXIS", help="Axis that a line runs along: x, y or any.")
@click.option("--medium", help="The ground, such as topsoil, sand, clay, limestone.")
@click.option("--wetness", metavar="STATE", help="dry, moist or wet.")
@click.option("--velocity-m-per-ns", help="Velocity, where it is known.", type=float, metavar="N")
@click.option(
    "--antenna", multiple=True, metavar="MHZ:METRES", help="At hand; once for each, such as 400:0.15."
)
@click.option("--spacing-m", help="Line spacing, instead of the one proposed.", type=float, metavar="N")
def command(
    request: Path | None, out: Path | None, as_json: bool, antenna: tuple[str, ...], **given: Any
) -> int:
    """Plan a survey: say whether the target can be seen, and with which antenna, spacing and record; lay out the lines.

    What is asked stands in REQUEST.toml, in options, or in both; an option overrules the file. With --out a field sheet
    to print, the site file, a table of stakes and all figures are written.

    \b
    Examples:
      gridmap plan mill-lane.toml -o mill-lane
      gridmap plan --shape line --material metal --size-m 0.1 --depth-m 1 --medium topsoil \\
        --wetness moist --sides-m 20 10 --antenna 400:0.15 --antenna 200:0.3 -o plan
      gridmap plan mill-lane.toml --depth-m 2 --json
    """
    import gridmap

    tables = {
        "site": ("name", "sides_m"),
        "sought": ("shape", "material", "size_m", "depth_m", "trend"),
        "ground": ("medium", "wetness", "velocity_m_per_ns"),
        "walk": ("spacing_m",),
    }
    options: dict[str, Any] = {}
    for table, keys in tables.items():
        values = {
            k: list(given[k]) if isinstance(given[k], tuple) else given[k]
            for k in keys
            if given[k] is not None
        }
        if values:
            options[table] = values
    if antenna:
        options["antenna"] = _antennas(antenna)
    if request is None and not options:
        raise click.UsageError(
            "Say what is sought: a request file, or options. gridmap plan --help shows both."
        )
    plan = gridmap.plan_grid(request, out, options=options)
    return _print_json(plan) if as_json else _print_plan(plan, out)


def _print_json(plan: Plan) -> int:
    from gridmap.deliver.plan_record import plan_record
    from gridmap.deliver.strict_json import to_text

    click.echo(to_text(plan_record(plan)), nl=False)
    return _code(plan)


def _print_plan(plan: Plan, out: Path | None) -> int:
    from gridmap.deliver.caution import CAUTION
    from gridmap.deliver.plan_folder import PLAN_FILES
    from gridmap.deliver.sheet_words import VERDICT, hours_words

    click.echo(VERDICT[plan.seen])
    for reason in plan.reasons:
        click.echo(f"  ! {reason[0].upper()}{reason[1:]}")
    click.echo("\nProposed")
    for figure in plan.figures:
        click.echo(f"  {figure.label:<46} {figure.text:<28} {figure.formula}")
    click.echo("\nReach of the antennas at hand, metres")
    for antenna, reach in plan.choice.others:
        mark = "  <- proposed" if antenna == plan.choice.antenna else ""
        click.echo(
            f"  {antenna.frequency_mhz:6g} MHz   {reach.likely:.3g} ({reach.low:.3g} to {reach.high:.3g}){mark}"
        )
    effort = plan.effort
    click.echo(
        f"\n{len(plan.lines)} lines along {' and '.join(plan.axes)}: {effort.line_m:.0f} m on lines,"
        f" {effort.between_m:.0f} m between, {hours_words(effort.hours)} on site."
    )
    for caution in plan.cautions:
        click.echo(f"  ! {caution}")
    if out is not None:
        click.echo(f"\nFiles are in {out}")
        for name, what in PLAN_FILES:
            click.echo(f"  {name:<16} {what}")
        click.echo(f"After the walk: gridmap map {out / 'site.toml'} -o map")
    click.echo(f"\n{CAUTION}")
    return _code(plan)


def _code(plan: Plan) -> int:
    from gridmap.errors import EXIT_ATTENTION, EXIT_DONE

    return EXIT_DONE if plan.seen == "yes" else EXIT_ATTENTION
