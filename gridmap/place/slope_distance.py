"""Slope distance: a wheel measures along the ground, a tape grid is level."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy import ndimage

from gridmap.model import Float64, Int64, PlacedLine

POST_M = 0.1
"""Step at which the ground below a path is asked for, metres."""

SMOOTH_M = 0.5
"""The ground is smoothed over this along the path: a wheel rolls over what is shorter, metres."""

LEAST_M = 0.001
"""Moves no larger than this change nothing, metres."""


def slope_lengths(along_m: Float64, height_m: Float64) -> Float64:
    """Distance along the ground from the first point of a profile.

    Parameters
    ----------
    along_m : (point,) float64
        Level distance, metres, increasing.
    height_m : (point,) float64
        Elevation of the ground, metres.

    Returns
    -------
    (point,) float64
        Metres: the sum of hypot(level step, rise) (Pythagoras).
    """
    return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(along_m), np.diff(height_m)))])


def by_slope_distance(
    placed: PlacedLine, heights_at: Callable[[Float64], Float64], anchors: Int64
) -> tuple[PlacedLine, float]:
    """Move traces along their path so that they lie evenly by distance along the slope, as a wheel triggers.

    Parameters
    ----------
    placed : PlacedLine
        Placed as if the ground were level.
    heights_at : callable
        From (point, 2) local metres to (point,) elevations, NaN where not known.
    anchors : (anchor,) int64
        Traces whose places are known on the level, such as both ends between pegs; increasing. Traces between two
        are spread between them; those before the first and after the last lie where the wheel's distance leads.

    Returns
    -------
    PlacedLine
        The same where the ground is not known all along the path, or where no trace would move by a millimetre.
    float
        The largest move along the line, metres; NaN where the ground is not known.
    """
    flat = placed.along_m
    posts = np.linspace(flat[0], flat[-1], max(3, int((flat[-1] - flat[0]) / POST_M) + 2))
    path = np.stack([np.interp(posts, flat, placed.xy_m[:, k]) for k in range(2)], axis=1)
    height = heights_at(path)
    if not np.isfinite(height).all():
        return placed, float("nan")
    wide = max(1, round(SMOOTH_M / (posts[1] - posts[0]))) | 1
    # The ends are mirrored through their own point, so that an even slope stays what it is.
    half = wide // 2
    whole = np.concatenate(
        [2 * height[0] - height[half:0:-1], height, 2 * height[-1] - height[-2 : -half - 2 : -1]]
    )
    smooth = ndimage.uniform_filter1d(whole, wide)[half : half + len(height)]
    slope = slope_lengths(posts, smooth)
    known = np.interp(flat[anchors], posts, slope)
    wanted = np.interp(flat, flat[anchors], known)
    first, last = anchors[0], anchors[-1]
    wanted[:first] = known[0] - (flat[first] - flat[:first])
    wanted[last + 1 :] = known[-1] + (flat[last + 1 :] - flat[last])
    along = np.interp(wanted, slope, posts)
    move = float(np.abs(along - flat).max())
    if move <= LEAST_M:
        return placed, move
    xy = np.stack([np.interp(along, flat, placed.xy_m[:, k]) for k in range(2)], axis=1)
    return replace(placed, xy_m=xy, along_m=along), move
