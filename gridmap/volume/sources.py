"""What is interpolated from: the posts of all lines, and which of them share a line, a direction, a noise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.image.posts import line_posts
from gridmap.model import CleanLine, Float64, Grid, Int64
from gridmap.place.strips import parallel_groups
from gridmap.volume.lattice import cells_of
from gridmap.volume.weights import Weights

LEAST_NOISE, MOST_NOISE = 0.25, 16.0
"""Variance of a line's noise over the survey's usual is kept between these: one odd line must not count for nothing."""


@dataclass(frozen=True, slots=True)
class Sources:
    """Points with values, in the order of the lines.

    Attributes
    ----------
    xy_m : (point, 2) float64
        Local positions, metres.
    line : (point,) int64
        Number of the line that each lies on.
    way : (point,) int64
        Number of the group of parallel lines that the line belongs to.
    noise : (point,) float64
        Variance of the line's noise over the survey's usual, about 1.
    ways : int
        How many groups of parallel lines the whole survey has.
    step_m, line_m : float
        Distance between posts, and the usual one between lines (infinite for one line), metres.
    """

    xy_m: Float64
    line: Int64
    way: Int64
    noise: Float64
    ways: int
    step_m: float
    line_m: float

    def __len__(self) -> int:
        return len(self.xy_m)


def plain_sources(xy_m: Float64, step_m: float) -> Sources:
    """Points `step_m` apart of which nothing but the place is known, (point, 2) metres: all as if on one line."""
    none = np.zeros(len(xy_m), np.int64)
    return Sources(np.asarray(xy_m, np.float64), none, none, np.ones(len(xy_m)), 1, step_m, math.inf)


def survey_sources(
    lines: Sequence[CleanLine], step_m: float, line_m: float, noise_levels: Sequence[float] | None = None
) -> Sources:
    """Take the posts of all lines as points.

    Parameters
    ----------
    lines : sequence of CleanLine
        The survey.
    step_m, line_m : float
        Distance between posts, and the usual one between lines, metres.
    noise_levels : sequence of float or None
        Standard deviation of each line's noise, any one unit; NaN where not known. None: all alike.

    Returns
    -------
    Sources
        In the order of the lines and of the posts along them.
    """
    posts = [line_posts(line, step_m) for line in lines]
    counts = [len(p) for p in posts]
    way = np.zeros(len(lines), np.int64)
    groups = parallel_groups([line.xy_m for line in lines])
    for number, (_, members) in enumerate(groups):
        way[members] = number
    noise = np.ones(len(lines))
    if noise_levels is not None:
        level = np.asarray(noise_levels, np.float64)
        known = np.isfinite(level) & (level > 0)
        if known.any():
            noise[known] = (level[known] / np.median(level[known])) ** 2
    return Sources(
        np.concatenate(posts),
        np.repeat(np.arange(len(lines)), counts),
        np.repeat(way, counts),
        np.repeat(np.clip(noise, LEAST_NOISE, MOST_NOISE), counts),
        max(1, len(groups)),
        step_m,
        line_m,
    )


def sources_near(sources: Sources, grid: Grid, reach_m: float) -> tuple[Sources, Int64]:
    """Take the points within `reach_m` of a grid's rim or inside it, for a tile of a map.

    Returns
    -------
    near : Sources
        In the same order.
    index : (near point,) int64
        Where each stands among all.
    """
    low = np.array([grid.x_first_m, grid.y_first_m]) - reach_m
    high = np.array([grid.x_m()[-1], grid.y_m()[-1]]) + reach_m
    index = np.flatnonzero(np.all((sources.xy_m >= low) & (sources.xy_m <= high), axis=1))
    return _some(sources, index), index


def _some(sources: Sources, index: Int64) -> Sources:
    return replace(
        sources,
        xy_m=sources.xy_m[index],
        line=sources.line[index],
        way=sources.way[index],
        noise=sources.noise[index],
    )


def join_in_cells(sources: Sources, grid: Grid) -> tuple[Sources, Weights]:
    """Join posts of one line that share a cell of the lattice that the grid is part of.

    Parameters
    ----------
    sources : Sources
        Posts, inside the grid or not.
    grid : Grid
        Cells.

    Returns
    -------
    points : Sources
        Mean position of the posts of each line in each cell; their noise is not made less, since posts a
        fraction of a wavelength apart share it. By line, row and column, whichever part of the lattice is given.
    weights : Weights
        (point, post): equal weights within a cell.
    """
    column, row = cells_of(sources.xy_m, grid).T
    post = np.lexsort((column, row, sources.line))
    if not len(post):
        return sources, Weights(np.zeros(1, np.int64), post, np.empty(0, np.float32))
    new = np.ones(len(post), bool)
    for what in (column, row, sources.line):
        new[1:] &= np.diff(what[post]) == 0
    new[1:] = ~new[1:]
    first = np.flatnonzero(new)
    start = np.append(first, len(post)).astype(np.int64)
    count = np.diff(start)
    points = replace(
        _some(sources, post[first]), xy_m=np.add.reduceat(sources.xy_m[post], first, axis=0) / count[:, None]
    )
    return points, Weights(start, post, np.repeat(1.0 / count, count).astype(np.float32))
