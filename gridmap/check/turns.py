"""Swings and turns: where the walked path leaves its own straight run."""

from __future__ import annotations

import math

import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.setup import Setup
from gridmap.check.stretch import runs, stretch
from gridmap.model import Bool, Float64

_TURN_DEG = 20.0
_OVER_M = 0.6
"""The heading is taken over this length: a step, or half an antenna cart's."""
_ASIDE_SPACINGS = 0.5
"""A path this share of the line spacing aside of its run leaves a hole on the other side."""


def find_turns(line: str, xy_m: Float64, along_m: Float64, known: Bool, setup: Setup) -> list[Finding]:
    """Find stretches that turn away from the line's main run, or lie beside it.

    Parameters
    ----------
    line : str
        Name of the line.
    xy_m : (trace, 2) float64
        As placed by a track or by surveyed points, metres; straight pegs show nothing.
    along_m : (trace,) float64
        Distance along the line, metres.
    known : (trace,) bool
        Traces whose place is known.
    setup : Setup
        The line spacing.

    Returns
    -------
    list of Finding
        The run's direction is the median over pairs of places far apart: robust against the swing itself.
    """
    at = np.flatnonzero(known)
    if len(at) < 20 or along_m[at[-1]] - along_m[at[0]] < 4 * _OVER_M:
        return []
    some = at[:: max(1, len(at) // 60)]
    d = xy_m[some][:, None] - xy_m[some][None]
    far = np.hypot(d[..., 0], d[..., 1]) > _OVER_M
    angle = np.arctan2(d[..., 1], d[..., 0])[far & np.tri(len(some), k=-1, dtype=bool)]
    if not angle.size:
        return []
    main = float(np.angle(np.median(np.exp(1j * angle).real) + 1j * np.median(np.exp(1j * angle).imag)))
    normal = np.array([-math.sin(main), math.cos(main)])
    aside = xy_m @ normal
    aside -= np.median(aside[at])
    ahead = np.searchsorted(along_m, along_m + 0.5 * _OVER_M).clip(max=len(along_m) - 1)
    behind = np.searchsorted(along_m, along_m - 0.5 * _OVER_M)
    step = xy_m[ahead] - xy_m[behind]
    turn = np.degrees(np.abs(np.angle(np.exp(1j * (np.arctan2(step[:, 1], step[:, 0]) - main)))))
    off = known & ((turn > _TURN_DEG) | (np.abs(aside) > _ASIDE_SPACINGS * setup.line_spacing_m))
    found = []
    severity: Severity = "attention"
    for a, b in runs(off, join=3):
        if along_m[b] - along_m[a] < 0.5 * _OVER_M:
            continue
        most, angle_deg = float(np.abs(aside[a : b + 1]).max()), float(turn[a : b + 1].max())
        found.append(
            stretch(
                line,
                "turned",
                severity,
                (a, b),
                along_m,
                (Figure("aside", most, "m"), Figure("turned by", angle_deg, "degrees")),
                f"swings {most:.2f} m aside, turned by up to {angle_deg:.0f} degrees",
                "At an obstacle end the line and start another beyond it.",
            )
        )
    return found
