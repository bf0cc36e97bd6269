"""Findings in words that console, page and paper share."""

from __future__ import annotations

import math
from collections.abc import Sequence

from gridmap.check.finding import KINDS, Finding, Severity, Verdict

ANSWERS = {True: "Complete", False: "Walk again"}
"""The verdict by `Verdict.complete`."""
_COUNTED: tuple[tuple[Severity, str], ...] = (("walk again", "to walk again"), ("attention", "to look at"))


def stretch_words(finding: Finding, placed: bool = True) -> str:
    """Say where along the line, to the decimetre, outwards; empty for the whole line.

    Where distances are not known (`placed` is False) the traces are named instead.
    """
    if not placed and finding.first_trace is not None:
        if finding.first_trace == finding.last_trace:
            return f"trace {finding.first_trace}"
        return f"traces {finding.first_trace} to {finding.last_trace}"
    if not (math.isfinite(finding.from_m) and math.isfinite(finding.to_m)):
        return ""
    first, last = math.floor(10 * finding.from_m + 1e-6) / 10, math.ceil(10 * finding.to_m - 1e-6) / 10
    return f"{first:.1f} m" if last <= first else f"{first:.1f} to {last:.1f} m"


def what_words(finding: Finding) -> str:
    """Say what is wrong as a sentence."""
    said = f"{KINDS[finding.kind]}: {finding.words}".rstrip(".: ")
    return f"{said[:1].upper()}{said[1:]}."


def finding_words(finding: Finding, placed: bool = True) -> str:
    """Say one finding: the stretch, what is wrong, what to do; `placed` as of `stretch_words`."""
    where = stretch_words(finding, placed)
    said = what_words(finding)
    if where:
        said = f"{where}: {said[:1].lower()}{said[1:]}"
    return f"{said} {finding.what_to_do}".strip()


def count_words(verdict: Verdict) -> str:
    """Say how many findings there are of each severity above a note, and on how many lines the verdict rests."""
    parts = [f"{sum(f.severity == s for f in verdict.findings)} {words}" for s, words in _COUNTED]
    return f"{', '.join(parts)}; {len(verdict.lines)} line{'s' * (len(verdict.lines) != 1)} checked"


def walk_again(verdict: Verdict) -> Sequence[Finding]:
    """Give what must be walked again, worst first."""
    return [f for f in verdict.findings if f.severity == "walk again"]
