"""Reach in this ground against the wanted depth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.setup import Setup
from gridmap.check.stretch import whole_line
from gridmap.condition.reach import reach_ns
from gridmap.condition.recipe import Conditioned, Recipe
from gridmap.model import CleanLine

_MOST_LINES = 24


def survey_reach(
    signal: Conditioned, lines: Sequence[CleanLine], recipe: Recipe, setup: Setup
) -> tuple[float, float, float]:
    """Estimate how deep a stated echo would still be seen, from up to 24 lines.

    Parameters
    ----------
    signal : Conditioned
        Noise floors, decay and gain.
    lines : sequence of CleanLine
        Conditioned.
    recipe : Recipe
        As they were conditioned.
    setup : Setup
        The velocity.

    Returns
    -------
    (float, float, float)
        Median and tenth percentile of the depth, metres, and the depth at which the record ends; NaN: not known. See
        `gridmap.condition.reach`.
    """
    noise = {ln.name: n.level for ln, n in zip(signal.lines, signal.noise, strict=True)}
    some = lines[:: max(1, len(lines) // _MOST_LINES)]
    times = [
        reach_ns(ln, signal.gain, recipe.interval_ns, noise[ln.name], signal.decay, recipe.decay_from_ns)
        for ln in some
    ]
    depth = 0.5 * setup.velocity_m_per_ns * np.concatenate(times)
    depth = depth[np.isfinite(depth)]
    end = 0.5 * setup.velocity_m_per_ns * recipe.interval_ns * (len(signal.gain) - 1)
    if not depth.size:
        return float("nan"), float("nan"), end
    return float(np.median(depth)), float(np.percentile(depth, 10)), end


def find_reach(reach: tuple[float, float, float], setup: Setup) -> list[Finding]:
    """Say whether the ground lets the radar see as deep as is wanted.

    Parameters
    ----------
    reach : (float, float, float)
        From `survey_reach`.
    setup : Setup
        The wanted depth.

    Returns
    -------
    list of Finding
        Kind "reach". Walking again with the same antenna does not help, so it is attention at most.
    """
    usual, low, end = reach
    if not np.isfinite(usual):
        return []
    figures = (Figure("reach", usual, "m"), Figure("reach on a tenth of the area", low, "m"))
    if setup.depth_m is None:
        return []
    if usual < min(setup.depth_m, 0.98 * end):
        return [
            whole_line(
                "",
                "reach",
                "attention",
                figures,
                f"in this ground a clear echo is seen to {usual:.2f} m, and {setup.depth_m:g} m are wanted: an empty "
                "map below that says nothing",
                "Use an antenna of lower frequency, stack more, or come back when the ground is dry.",
            )
        ]
    if low < min(setup.depth_m, 0.98 * end):
        return [
            whole_line(
                "",
                "reach",
                "note",
                figures,
                f"on a tenth of the area a clear echo is seen to {low:.2f} m only; {setup.depth_m:g} m are wanted",
            )
        ]
    return []
