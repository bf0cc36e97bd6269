"""Level lines, channels, swaths and blocks: gains that a map would show as stripes, from what lines have in common.

A gain is the same at every depth and all along a line; a pipe along a line is not: it stands at one depth. So two
neighbours are compared in many windows of time, and the median over the windows is their step in gain.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import csr_matrix, diags
from scipy.sparse.linalg import spsolve

from gridmap.model import Bool, CleanLine, Float32, Float64, Int64
from gridmap.place.strips import parallel_groups
from gridmap.threads import each

PIECE_M = 1.0
"""Length of the pieces of line that are compared."""

FEWEST_PIECES, FEWEST_WINDOWS = 3, 4
NEIGHBOURS = 3
"""Lines to either side that a line is compared with."""

DRIFT_PER_ROOT_M = 0.1
"""How far the ground itself may drift in strength over a metre across, in nepers, as a random walk: what changes more
slowly than some five metres is the ground's."""

LEAST_NEPER = 0.02
"""Gains that differ by less than 2 % are left alone."""


@dataclass(frozen=True, slots=True)
class Levels:
    """Gains of a survey, natural logarithms.

    Attributes
    ----------
    line : (line,) float64
        Of each line, all parts added up: its amplitude is too large by exp of this. Zero where nothing is told.
    usual : float
        Standard deviation of the steps from line to line that is no scatter.
    channel, swath, block : dict
        Parts by name of channel, swath and block.
    """

    line: Float64
    usual: float
    channel: dict[int, float]
    swath: dict[int, float]
    block: dict[int, float]


@dataclass(frozen=True, slots=True)
class Steps:
    """Differences in log amplitude between lines that run beside each other, or over each other.

    Attributes
    ----------
    one, other : (pair,) int64
        Lines.
    size, sd : (pair,) float64
        Nepers, and the standard error of the median.
    apart_m : (pair,) float64
        Distance across, metres.
    """

    one: Int64
    other: Int64
    size: Float64
    sd: Float64
    apart_m: Float64


def line_steps(
    lines: Sequence[CleanLine], interval_ns: float, from_ns: float, window_ns: float, floor: Float32
) -> Steps:
    """Compare lines with their neighbours.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned and placed.
    interval_ns : float
        Sample interval, nanoseconds.
    from_ns, window_ns : float
        Samples before `from_ns` hold the direct wave and are left out; length of the windows.
    floor : (sample,) float32
        Amplitude of the noise after gain, in the unit of the traces. Windows in which the usual
        line is not twice as strong are left out.

    Returns
    -------
    Steps
        Of each line and up to three lines to either side.
    """
    out: list[tuple[int, int, float, float, float]] = []
    edges = np.arange(from_ns / interval_ns, lines[0].traces.shape[1] + 1e-9, window_ns / interval_ns).astype(
        int
    )
    if len(edges) <= FEWEST_WINDOWS:
        return _steps(out)
    noise = np.array([np.sqrt(np.mean(np.square(floor[a:b]))) for a, b in pairwise(edges)])
    for axis, members in parallel_groups([line.xy_m for line in lines]):
        normal = np.array([-axis[1], axis[0]])
        along = [lines[i].xy_m @ axis for i in members]
        first = min(float(a.min()) for a in along)
        pieces = int((max(float(a.max()) for a in along) - first) / PIECE_M) + 1

        def table(
            k: int, along: list[Float64] = along, first: float = first, n: int = pieces
        ) -> tuple[Float64, Float64]:
            line = lines[members[k]]  # noqa: B023
            across = line.xy_m @ normal  # noqa: B023
            return _levels_of(line, ((along[k] - first) / PIECE_M).astype(int), across, n, edges)

        tables = each(table, range(len(members)))
        usual = np.nanmedian(np.array([np.exp(np.nanmedian(t, axis=0)) for t, _ in tables]), axis=0)
        strong = usual > 2 * noise
        if strong.sum() < FEWEST_WINDOWS:
            continue
        middle = np.array([np.nanmedian(across) for _, across in tables])
        order = np.argsort(middle, kind="stable")
        for place, k in enumerate(order):
            for j in order[place + 1 : place + 1 + NEIGHBOURS]:
                step = _step(tables[k], tables[j], strong)
                if step is not None:
                    out.append((members[k], members[j], *step))
    return _steps(out)


def _steps(rows: list[tuple[int, int, float, float, float]]) -> Steps:
    table = np.array(rows, np.float64).reshape(-1, 5)
    return Steps(table[:, 0].astype(np.int64), table[:, 1].astype(np.int64), *table[:, 2:].T)


def _levels_of(
    line: CleanLine, piece: Int64, across_m: Float64, pieces: int, edges: Int64
) -> tuple[Float64, Float64]:
    """Log amplitude of each (piece, window), and median distance across of each piece; NaN where there is no trace."""
    level = np.full((pieces, len(edges) - 1), np.nan)
    across = np.full(pieces, np.nan)
    for p in np.unique(piece[line.usable]):
        own = line.usable & (piece == p)
        part = line.traces[own][:, edges[0] : edges[-1]]
        power = np.add.reduceat(np.einsum("ts,ts->s", part, part, dtype=np.float64), edges[:-1] - edges[0])
        with np.errstate(divide="ignore"):
            level[p] = 0.5 * np.log(power / (own.sum() * np.diff(edges)))
        across[p] = np.median(across_m[own])
    level[~np.isfinite(level)] = np.nan
    return level, across


def _step(
    one: tuple[Float64, Float64], other: tuple[Float64, Float64], strong: Bool
) -> tuple[float, float, float] | None:
    """Size, standard error and distance of a pair; None where they have too little in common."""
    differ = (one[0] - other[0])[:, strong]
    both = np.isfinite(differ).all(axis=1)
    if both.sum() < FEWEST_PIECES:
        return None
    by_window = np.median(differ[both], axis=0)
    size = float(np.median(by_window))
    scatter = 1.4826 * float(np.median(np.abs(by_window - size)))
    # A median has 1.25 times the error of a mean; windows share a part of their clutter.
    sd = 1.25 * scatter / math.sqrt(0.5 * len(by_window))
    apart = float(np.median(np.abs(one[1] - other[1])[both]))
    return size, max(sd, 0.005), apart


def solve_levels(
    steps: Steps, count: int, channel: Sequence[int | None], swath: Sequence[int | None], block: Sequence[int]
) -> Levels:
    """Split steps into gains of blocks, swaths, channels and single lines.

    Parameters
    ----------
    steps : Steps
        From `line_steps`.
    count : int
        How many lines there are.
    channel, swath : sequence of int or None
        Of each line; None where a line is no channel of an array.
    block : sequence of int
        Of each line: what was walked in one go, such as a day's work.

    Returns
    -------
    Levels
        The most probable gains: normal, of the deviation that steps show beyond their scatter (empirical Bayes), one
        part for each block, swath, channel and line; the ground's own drift across is a random walk. The mean over all
        lines is zero. Where steps are all scatter, nothing is levelled.
    """
    parts: list[tuple[str, int]] = []
    where: dict[tuple[str, int], int] = {}
    columns: list[list[int]] = []
    for i in range(count):
        mine: list[tuple[str, int]] = [("line", i), ("block", block[i])]
        if channel[i] is not None:
            mine.append(("channel", int(channel[i] or 0)))
        if swath[i] is not None:
            mine.append(("swath", int(swath[i] or 0)))
        for part in mine:
            if part not in where:
                where[part] = len(parts)
                parts.append(part)
        columns.append([where[part] for part in mine])
    at = np.repeat(np.arange(count), [len(mine) for mine in columns])
    rows = csr_matrix((np.ones(len(at)), (at, np.concatenate(columns))), (count, len(parts)))
    drift = DRIFT_PER_ROOT_M**2 * steps.apart_m
    usual = _beyond_scatter(steps, drift, count)
    if usual < LEAST_NEPER or not len(steps.size):
        return Levels(np.zeros(count), usual, {}, {}, {})
    prior = np.array([usual if kind != "block" else 10 * usual for kind, _ in parts])
    trust = 1.0 / (steps.sd**2 + drift)
    design = rows[steps.one] - rows[steps.other]
    value = np.zeros(len(parts))
    for _ in range(10):  # Huber's weights: one odd pair may not pull a line with it
        weight = trust * np.minimum(
            1.0, 2.0 / np.maximum(np.abs(steps.size - design @ value) * np.sqrt(trust), 1e-9)
        )
        normal = design.T @ diags(weight) @ design + diags(1.0 / prior**2)
        value = np.asarray(spsolve(normal.tocsc(), design.T @ (weight * steps.size)))
    line = rows @ value
    named: dict[str, dict[int, float]] = {"channel": {}, "swath": {}, "block": {}, "line": {}}
    for (kind, number), v in zip(parts, value, strict=True):
        named[kind][number] = float(v)
    return Levels(line - line.mean(), usual, named["channel"], named["swath"], named["block"])


def _beyond_scatter(steps: Steps, drift: Float64, count: int) -> float:
    """Return the deviation of a line's gain that steps show beyond their error and the ground's drift, robust."""
    if not len(steps.size):
        return 0.0
    spread = (1.4826 * float(np.median(np.abs(steps.size)))) ** 2
    scatter = float(np.median(steps.sd**2 + drift))
    # A variance from so many lines is known to about this share of itself (one sigma): gains must stand out of that.
    unsure = 1.2 * math.sqrt(2 / count)
    return math.sqrt(0.5 * (spread - scatter)) if spread * (1 - 1.5 * unsure) > scatter else 0.0
