"""All lines judged together: what only a comparison can tell, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence

from gridmap.check.finding import CheckedLine, Finding, Verdict, worst, worst_first
from gridmap.check.line import LineCheck
from gridmap.check.setup import Setup


def check_survey(
    site: str, lines: Sequence[LineCheck], setup: Setup, known: Sequence[Finding] = ()
) -> Verdict:
    """Judge a survey.

    Parameters
    ----------
    site : str
        Its name.
    lines : sequence of LineCheck
        Every line that could be read, in order.
    setup : Setup
        What is known of the survey.
    known : sequence of Finding
        What the reading told already, such as files that are not there.

    Returns
    -------
    Verdict
        Complete unless a finding says to walk again.
    """
    found = [*known, *(f for line in lines for f in line.findings)]
    checked = tuple(
        CheckedLine(
            line.name, line.file, line.xy_m, line.along_m, setup.placed,
            worst(f for f in found if f.line == line.name),
        )
        for line in lines
    )  # fmt: skip
    ranked = worst_first(found, [line.name for line in lines])
    return Verdict(worst(ranked) != "walk again", ranked, checked, site)
