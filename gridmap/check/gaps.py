"""Triggers that were not recorded, and gaps between traces as placed."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.setup import Setup
from gridmap.check.stretch import lost_severity, stretch, whole_line
from gridmap.model import Float64, Int64

_OVER_USUAL = 2.5
"""A step this many times the usual one is a gap where no trigger count tells."""


def find_gaps(line: str, number: Int64 | None, along_m: Float64, setup: Setup) -> list[Finding]:
    """Find missing traces.

    Parameters
    ----------
    line : str
        Name of the line.
    number : (trace,) int64 or None
        Trigger count of each trace in file order.
    along_m : (trace,) float64
        Distance along the line as placed, metres.
    setup : Setup
        For the severity.

    Returns
    -------
    list of Finding
        Kind "gap"; first and last trace are those on both sides of it.
    """
    if len(along_m) < 2:
        return []
    step = np.diff(along_m)
    usual = float(np.median(step))
    if number is None:
        lost = np.where(step > _OVER_USUAL * usual, np.rint(step / max(usual, 1e-9)) - 1, 0).astype(int)
    else:
        lost = np.abs(np.diff(number)) - 1
        back = np.flatnonzero(np.diff(number) * np.sign(number[-1] - number[0]) < 0)
        if back.size:
            return [
                whole_line(
                    line,
                    "gap",
                    "attention",
                    (Figure("steps back", len(back), ""),),
                    f"trigger counts run back {len(back)} times: they cannot place the traces",
                    "Export the line again; check which way the wheel counts.",
                )
            ]
    found = []
    for k in np.flatnonzero(lost > 0).tolist():
        gap_m = float(step[k])
        missing = int(lost[k])
        found.append(
            stretch(
                line,
                "gap",
                lost_severity(gap_m, setup),
                (k, k + 1),
                along_m,
                (Figure("missing", missing, "traces"), Figure("gap", gap_m, "m")),
                f"{missing} trace{'s' * (missing > 1)} missing, a gap of {gap_m:.2f} m",
                "Walk slower, or set fewer samples or less stacking.",
            )
        )
    return found
