"""Stretches whose place a track does not tell well: gaps between fixes, and fixes of poor quality."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.setup import Setup
from gridmap.check.stretch import lost_severity, runs, stretch
from gridmap.place.dispatch import Placed

_FIXED = 4
_POOR = {5: "float", 2: "differential", 1: "autonomous"}
_LEAST = 3


def find_unsure_places(placed: Placed, setup: Setup) -> list[Finding]:
    """Find stretches of a line placed by a track where the track is thin or poor.

    Parameters
    ----------
    placed : gridmap.place.dispatch.Placed
        With the track's report; another way of placing gives nothing.
    setup : Setup
        For the severity of what cannot be placed.

    Returns
    -------
    list of Finding
        Kind "position". A gap that the trigger count bridges is told, one that it cannot bridge is lost. Fixes below
        the best quality of the line are told where better ones were had.
    """
    report = placed.track
    if report is None or not len(report.quality):
        return []
    line = placed.line
    name, along_m = line.line.name, line.along_m
    lost = np.zeros(len(along_m), bool) if line.usable is None else ~line.usable
    found = []
    for a, b in runs(report.in_gap):
        gone = bool(lost[a : b + 1].any())
        length = float(along_m[b] - along_m[a])
        found.append(
            stretch(
                name,
                "position",
                lost_severity(length, setup) if gone else "attention",
                (a, b),
                along_m,
                (Figure("gap", length, "m"),),
                f"no fixes over {length:.1f} m"
                + (": not placed" if gone else ", bridged by the count of traces"),
                "Walk it again in view of the sky, or measure both ends of the gap.",
            )
        )
    best = _FIXED if (report.quality == _FIXED).any() else None
    poor = (report.quality != _FIXED) & ~report.in_gap if best else np.zeros(len(along_m), bool)
    for a, b in runs(poor, join=2):
        if b - a + 1 < _LEAST:
            continue
        codes, counts = np.unique(report.quality[a : b + 1], return_counts=True)
        what = _POOR.get(int(codes[counts.argmax()]), "poor")
        found.append(
            stretch(
                name,
                "position",
                "attention",
                (a, b),
                along_m,
                (Figure("length", float(along_m[b] - along_m[a]), "m"),),
                f"{what} fixes only: places may be off by decimetres",
                "Wait for a fixed solution and walk it again, or measure both ends.",
            )
        )
    return found
