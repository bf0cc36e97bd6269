"""Coverage: spacing of the lines, holes between them, and edges of the grid that no line came near."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.stretch import whole_line
from gridmap.model import Float64
from gridmap.place.strips import parallel_groups

_HOLE = 1.6
"""A distance between neighbours this many times the usual one is a hole: a line is missing, or was walked aside."""
_EVEN = 0.35
"""Spacings that scatter by more than this share of their median belong to no regular grid."""
_EDGE = 1.2


@dataclass(frozen=True, slots=True)
class Rows:
    """Parallel lines in their order across.

    Attributes
    ----------
    axis : (2,) float64
        Unit vector along the lines.
    names : tuple of str
        In the order of `across_m`.
    across_m : (line,) float64
        Median distance across of each line, increasing, metres.
    spacing_m : float
        Usual distance from line to line, metres; infinite for one line.
    """

    axis: Float64
    names: tuple[str, ...]
    across_m: Float64
    spacing_m: float


def rows_of(names: Sequence[str], lines_xy_m: Sequence[Float64]) -> list[Rows]:
    """Sort lines into parallel rows; lines on one track count as one place."""
    out = []
    for axis, members in parallel_groups(lines_xy_m):
        normal = np.array([-axis[1], axis[0]])
        across = np.array([float(np.median(lines_xy_m[i] @ normal)) for i in members])
        order = np.argsort(across, kind="stable")
        steps = np.diff(across[order])
        apart = steps[steps > 0.2 * np.median(steps[steps > 1e-3])] if (steps > 1e-3).any() else steps[:0]
        spacing = float(np.median(apart)) if apart.size else float("inf")
        out.append(Rows(axis, tuple(names[members[i]] for i in order), across[order], spacing))
    return out


def usual_spacing_m(rows: Sequence[Rows]) -> float | None:
    """Return the usual line spacing, the smallest of the directions, metres; None where single lines were walked."""
    known = [r.spacing_m for r in rows if np.isfinite(r.spacing_m)]
    return min(known) if known else None


def find_holes(rows: Sequence[Rows], lines_xy_m: dict[str, Float64]) -> list[Finding]:
    """Find holes between neighbouring lines of a regular grid.

    Parameters
    ----------
    rows : sequence of Rows
        From `rows_of`.
    lines_xy_m : dict of str to (trace, 2) float64
        Places of the lines, metres.

    Returns
    -------
    list of Finding
        Kind "spacing". Neighbours that do not run beside each other over half of the shorter one are no neighbours.
    """
    out = []
    for r in rows:
        steps = np.diff(r.across_m)
        if len(steps) < 3 or not np.isfinite(r.spacing_m):
            continue
        usual = steps[np.abs(steps / r.spacing_m - 1) < 0.6]
        if len(usual) < 0.5 * len(steps) or np.std(usual) > _EVEN * r.spacing_m:
            continue
        for i in np.flatnonzero(steps > _HOLE * r.spacing_m).tolist():
            one, two = r.names[i], r.names[i + 1]
            if _beside(lines_xy_m[one] @ r.axis, lines_xy_m[two] @ r.axis) < 0.5:
                continue
            lacking = max(1, round(float(steps[i]) / r.spacing_m) - 1)
            out.append(
                whole_line(
                    "",
                    "spacing",
                    "walk again",
                    (
                        Figure("distance", float(steps[i]), "m"),
                        Figure("usual", r.spacing_m, "m"),
                        Figure("lines lacking", lacking, ""),
                    ),
                    f"{steps[i]:.2f} m between {one} and {two}, where lines are {r.spacing_m:.2f} m apart",
                    f"Walk {lacking} line{'s' * (lacking > 1)} between {one} and {two}.",
                )
            )
    return out


def find_edges(rows: Sequence[Rows], size_m: tuple[float, float] | None) -> list[Finding]:
    """Find edges of the stated grid that no line along them came near (lines along x or y only)."""
    if size_m is None:
        return []
    out = []
    for r in rows:
        k = 1 if abs(r.axis[0]) > 0.98 else 0 if abs(r.axis[1]) > 0.98 else None
        if k is None or len(r.names) < 3 or not np.isfinite(r.spacing_m):
            continue
        sign = 1.0 if (np.array([-r.axis[1], r.axis[0]]))[k] > 0 else -1.0
        across = np.sort(sign * r.across_m)
        for edge, distance in (("0", float(across[0])), (f"{size_m[k]:g}", float(size_m[k] - across[-1]))):
            if distance > _EDGE * r.spacing_m:
                lacking = max(1, round(distance / r.spacing_m))
                out.append(
                    whole_line(
                        "",
                        "coverage",
                        "walk again",
                        (Figure("not covered", distance, "m"), Figure("line spacing", r.spacing_m, "m")),
                        f"the grid ends at {'xy'[k]} = {edge} m and the last line along {'xy'[1 - k]} lies "
                        f"{distance:.2f} m inside it",
                        f"Walk {lacking} more line{'s' * (lacking > 1)} at that edge, or correct size_m.",
                    )
                )
    return out


def _beside(one: Float64, two: Float64) -> float:
    """Share of the shorter of two runs that the other lies beside."""
    low, high = max(one.min(), two.min()), min(one.max(), two.max())
    return float(max(0.0, high - low) / max(min(np.ptp(one), np.ptp(two)), 1e-9))
