"""Runs of traces, and a finding for each."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
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
        line, kind, severity, float(along_m[first]), float(along_m[last]), first + 1, last + 1, figures, words,
        what_to_do,
    )  # fmt: skip
