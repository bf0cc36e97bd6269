"""Runs of traces, a finding for each, and how bad it is to lose a stretch."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.setup import Setup
from gridmap.model import Bool, Float64


def runs(marked: Bool, join: int = 0) -> list[tuple[int, int]]:
    """First and last index of every run of True; runs with at most `join` False between them are one."""
    at = np.flatnonzero(marked)
    if not at.size:
        return []
    breaks = np.flatnonzero(np.diff(at) > join + 1)
    first = np.concatenate([at[:1], at[breaks + 1]])
    last = np.concatenate([at[breaks], at[-1:]])
    return list(zip(first.tolist(), last.tolist(), strict=True))


def stretch(
    line: str,
    kind: str,
    severity: Severity,
    span: tuple[int, int],
    along_m: Float64,
    figures: tuple[Figure, ...],
    words: str,
    what_to_do: str = "",
) -> Finding:
    """Make a finding of a run of traces, first and last index from 0, both included."""
    first, last = span
    return Finding(
        line,
        kind,
        severity,
        float(along_m[first]),
        float(along_m[last]),
        first + 1,
        last + 1,
        figures,
        words,
        what_to_do,
    )


def whole_line(
    line: str, kind: str, severity: Severity, figures: tuple[Figure, ...], words: str, what_to_do: str = ""
) -> Finding:
    """Make a finding of a line as a whole."""
    nan = float("nan")
    return Finding(line, kind, severity, nan, nan, None, None, figures, words, what_to_do)


def lost_severity(length_m: float, setup: Setup) -> Severity:
    """Say how bad it is that a stretch of a line cannot be used.

    Up to a quarter of a wavelength in the ground the traces beside it bridge it (a note). Between lines the survey
    leaves one line spacing open anyway: a stretch that is longer than that, and than a wavelength, leaves a hole that
    the plan did not accept, and is walked again.
    """
    if length_m <= 0.25 * setup.wavelength_m:
        return "note"
    return "walk again" if length_m > max(setup.line_spacing_m, setup.wavelength_m) else "attention"
