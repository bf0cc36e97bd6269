"""What is known of every line before a map is made: the stage behind `gridmap lines`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridmap.condition.recipe import finish_lines
from gridmap.deliver.plan_picture import PlanLine, write_plan_picture
from gridmap.model import CleanLine, Float64, Line, PlacedLine
from gridmap.pipeline.frame import map_frame
from gridmap.pipeline.read_lines import put_right, read_lines, shared_places
from gridmap.pipeline.run import Progress, Run, quiet
from gridmap.place.corrections import Corrections
from gridmap.site.records import Site

STAGES = (("reading and placing the lines", 0.5), ("conditioning", 0.1), ("comparing lines", 0.4))
"""Stages of `survey_lines` and the share of its time that each usually takes."""


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line of the table.

    Attributes
    ----------
    name : str
        The line.
    direction : str
        "+x", "-y" and so on, or the bearing from x in degrees.
    length_m : float
        From first to last trace as placed, metres.
    expected_m : float
        Length by its count of triggers and the survey's usual trace interval, metres.
    interval_m : float
        Mean distance between triggers, metres.
    traces, dropped, dead : int
        Traces in the file, trigger numbers that are missing, traces left out as dead or bursts.
    crossing_cm, crossing_ns : float
        Misfit at crossings, see `gridmap.place.crossings`; NaN: no crossings, or cannot be told.
    applied, suspected : tuple of str
        Corrections put right and only reported, in a word or two each.
    """

    name: str
    direction: str
    length_m: float
    expected_m: float
    interval_m: float
    traces: int
    dropped: int
    dead: int
    crossing_cm: float
    crossing_ns: float
    applied: tuple[str, ...]
    suspected: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LinesResult:
    """What `gridmap lines` shows.

    Attributes
    ----------
    rows : tuple of LineRow
        In the order of the site file.
    corrections : Corrections
        Every finding with size and evidence.
    plan : tuple of PlanLine
        What the plan picture is drawn from.
    notes, warnings : tuple of str
        What was assumed or cannot be told; what a person should look at.
    """

    rows: tuple[LineRow, ...]
    corrections: Corrections
    plan: tuple[PlanLine, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def survey_lines(site: Site, picture: Path | None = None, *, progress: Progress = quiet) -> LinesResult:
    """Describe every line of a survey and look for faults of position.

    Parameters
    ----------
    site : Site
        From `gridmap.site.load.load_site`.
    picture : Path or None
        PNG file to write the plan to.
    progress : callable
        Called with the stage in words and the share done.

    Returns
    -------
    LinesResult
        The table, the findings and the plan.

    Raises
    ------
    gridmap.errors.InputError
        For anything wrong in the user's files.
    """
    run = Run(progress, STAGES)
    with run.stage(0) as tick:
        placed, clean, recipe = read_lines(site, shared_places(site, map_frame(site, run), run), run, tick)
    with run.stage(1):
        lines = list(finish_lines(clean, recipe).lines)
    with run.stage(2):
        right, _, found = put_right(site, lines, placed, recipe.interval_ns, run)
        moved = {ln.name: ln for ln in right}
        plan = tuple(_plan_line(ln, moved.get(ln.name), found) for ln in lines)
    if picture is not None:
        write_plan_picture(picture, site.name, plan)
    progress("done", 1.0)
    return LinesResult(_rows(placed, lines, found), found, plan, tuple(run.notes), tuple(run.warnings))


def lines_table(result: LinesResult) -> str:
    """Write the table in fixed-width columns, one row a line, for a terminal of 100 columns or more."""
    head = (
        "line",
        "way",
        "length",
        "by count",
        "interval",
        "traces",
        "dropped",
        "dead",
        "crossings",
        "",
        "findings",
    )
    unit = ("", "", "m", "m", "cm", "", "", "", "cm", "ns", "")
    table = [head, unit]
    for r in result.rows:
        said = [*(f"{w} (put right)" for w in r.applied), *(f"{w}?" for w in r.suspected)]
        table.append(
            (
                r.name, r.direction, f"{r.length_m:.2f}", f"{r.expected_m:.2f}", f"{100 * r.interval_m:.2f}",
                str(r.traces), str(r.dropped), str(r.dead), _or_dash(r.crossing_cm, 1), _or_dash(r.crossing_ns, 2),
                ", ".join(said),
            )
        )  # fmt: skip
    wide = [max(len(row[k]) for row in table) for k in range(len(head))]
    left = {0, 1, len(head) - 1}
    rows = [
        "  ".join(
            c.ljust(w) if k in left else c.rjust(w) for k, (c, w) in enumerate(zip(row, wide, strict=True))
        )
        for row in table
    ]
    return "\n".join(row.rstrip() for row in rows)


def _or_dash(value: float, decimals: int) -> str:
    return f"{value:+.{decimals}f}" if np.isfinite(value) else "-"


def _rows(
    placed: Sequence[PlacedLine], lines: Sequence[CleanLine], found: Corrections
) -> tuple[LineRow, ...]:
    triggers = [_triggers(p.line, len(p.xy_m)) for p in placed]
    interval = [float(p.along_m[-1]) / t for p, t in zip(placed, triggers, strict=True)]
    usual = float(np.median(interval))
    crossing = {c.name: c for c in found.crossings}
    rows = []
    for p, clean, count, step in zip(placed, lines, triggers, interval, strict=True):
        c = crossing.get(clean.name)
        mine = found.of_line(clean.name) + [f for f in found.findings if not f.lines]
        rows.append(
            LineRow(
                clean.name,
                direction_words(p.xy_m),
                float(p.along_m[-1]),
                count * usual,
                step,
                len(p.xy_m),
                count + 1 - len(p.xy_m),
                int((~clean.usable).sum()),
                c.along_cm if c else float("nan"),
                c.time_ns if c else float("nan"),
                tuple(_short(f.kind, f.size) for f in mine if f.applied),
                tuple(_short(f.kind, f.size) for f in mine if not f.applied),
            )
        )
    return tuple(rows)


def direction_words(xy_m: Float64) -> str:
    """Say which way a line runs: "+x", "-y" within 3 degrees of an axis, else the angle from x, anticlockwise."""
    dx, dy = xy_m[-1] - xy_m[0]
    angle = float(np.degrees(np.arctan2(dy, dx)))
    for want, word in ((0, "+x"), (90, "+y"), (180, "-x"), (-180, "-x"), (-90, "-y")):
        if abs(angle - want) < 3:
            return word
    return f"{angle % 360:.0f}\N{DEGREE SIGN}"


def _short(kind: str, size: float) -> str:
    if not np.isfinite(size):
        return kind
    return f"{kind} {size:+.2f} ns" if kind == "level" else f"{kind} {size:+.2f} m"


def _triggers(line: Line, count: int) -> int:
    number = line.trace_number
    return int(number[-1] - number[0]) if number is not None else count - 1


def _plan_line(line: CleanLine, moved: CleanLine | None, found: Corrections) -> PlanLine:
    mine = found.of_line(line.name) + [f for f in found.findings if not f.lines and f.applied]
    return PlanLine(
        line.name,
        line.xy_m if moved is None else moved.xy_m,
        tuple(_short(f.kind, f.size) for f in mine if not f.applied),
        tuple(_short(f.kind, f.size) for f in mine if f.applied),
    )
