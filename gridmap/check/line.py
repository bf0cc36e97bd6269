"""One line judged by itself: what `gridmap check` asks of every line, and `gridmap watch` of each that arrives."""

from __future__ import annotations

from dataclasses import dataclass

from gridmap.check.dead import find_dead
from gridmap.check.finding import Finding
from gridmap.check.setup import Setup
from gridmap.model import Float64, PlacedLine


@dataclass(frozen=True, slots=True)
class LineCheck:
    """One line after its own checks, with what the survey's checks compare among lines.

    Attributes
    ----------
    name, file : str
        The line, and its file.
    xy_m : (trace, 2) float64
        As `gridmap.check.finding.CheckedLine`.
    along_m : (trace,) float64
        Distance from the first trace, metres.
    findings : tuple of Finding
        What the line says by itself.
    """

    name: str
    file: str
    xy_m: Float64
    along_m: Float64
    findings: tuple[Finding, ...]


def check_line(placed: PlacedLine, setup: Setup) -> LineCheck:
    """Judge one line.

    Parameters
    ----------
    placed : PlacedLine
        As read and placed; traces in the order of the file.
    setup : Setup
        What is known of the survey.

    Returns
    -------
    LineCheck
        Findings in no order; `gridmap.check.survey.check_survey` sorts them.
    """
    line = placed.line
    found = find_dead(line.name, line.traces, placed.along_m)
    return LineCheck(line.name, line.source, placed.xy_m, placed.along_m, tuple(found))
