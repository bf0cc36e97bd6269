"""Gains that lines, channels, swaths and blocks do not share: found, said, and taken off."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from gridmap.condition.levels import LEAST_NEPER, Levels, line_steps, solve_levels
from gridmap.condition.recipe import Conditioned, Recipe
from gridmap.model import CleanLine
from gridmap.pipeline.run import Run
from gridmap.site.records import Site
from gridmap.threads import each

WINDOW_PERIODS = 1.5
"""Length of the windows of time in which lines are compared."""

Rewrite = Callable[[Sequence[CleanLine], Callable[[list[CleanLine]], None]], list[CleanLine]]


def level_lines(
    site: Site, signal: Conditioned, lines: list[CleanLine], recipe: Recipe, run: Run, rewrite: Rewrite
) -> tuple[Conditioned, list[CleanLine], Levels]:
    """Take gains off that a map would show as stripes along lines and steps between blocks.

    Parameters
    ----------
    site : Site
        `corrections.gains`: "apply" takes them off, "report" only says them, "off" does not look.
    signal : Conditioned
        Noise floors and gain.
    lines : list of CleanLine
        Conditioned and put right.
    recipe : Recipe
        As they were conditioned.
    run : Run
        Takes the messages.
    rewrite : callable
        Copies lines, lets a function change the copies' traces, and returns them.

    Returns
    -------
    signal : Conditioned
        With noise floors levelled as the traces are.
    lines : list of CleanLine
        As given, or levelled copies.
    levels : Levels
        What was found.
    """
    none = Levels(np.zeros(len(lines)), 0.0, {}, {}, {})
    if site.corrections.gains == "off" or len(lines) < 2:
        return signal, lines, none
    known = [n.level for n in signal.noise if np.isfinite(n.level)]
    floor = (float(np.median(known)) if known else 0.0) * signal.gain
    steps = line_steps(
        lines, recipe.interval_ns, recipe.decay_from_ns, WINDOW_PERIODS * recipe.period_ns, floor
    )
    plans = {plan.name: plan for plan in site.lines}
    mine = [plans[line.name] for line in lines]
    found = solve_levels(
        steps, len(lines), [p.channel for p in mine], [p.swath for p in mine], [p.block for p in mine]
    )
    if np.abs(found.line).max() < LEAST_NEPER:
        return signal, lines, found
    applied = site.corrections.gains == "apply"
    words = _words(found)
    run.notes.append(f"levelled: {words}" if applied else f"{words}; left as they are ([corrections] gains)")
    if not applied:
        return signal, lines, found
    factor = {line.name: np.float32(np.exp(-g)) for line, g in zip(lines, found.line, strict=True)}

    def scale(copies: list[CleanLine]) -> None:
        each(lambda ln: np.multiply(ln.traces, factor[ln.name], out=ln.traces), copies)

    levelled = rewrite(lines, scale)
    noise = tuple(
        replace(n, level=n.level * float(factor.get(ln.name, 1.0)))
        for ln, n in zip(signal.lines, signal.noise, strict=True)
    )
    return replace(signal, noise=noise), levelled, found


def _words(found: Levels) -> str:
    parts = [f"gains of lines differ by {_percent(found.line)} (1 sigma)"]
    if len(found.channel) > 1:
        parts.append(f"of channels by {_percent(list(found.channel.values()))}")
    if len(found.block) > 1:
        blocks = list(found.block.values())
        parts.append(f"blocks by up to {100 * (np.exp(max(blocks) - min(blocks)) - 1):.0f} %")
    return ", ".join(parts)


def _percent(nepers: Sequence[float] | np.ndarray) -> str:
    return f"{100 * float(np.std(nepers)):.0f} %"
