"""Linear targets: crossings on neighbouring lines that lie in one row, and the angle of crossing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gridmap.model import Float64

Ints = NDArray[np.int64]


def match_crossings(
    line: Ints,
    xy_m: Float64,
    direction: Float64,
    time_ns: Float64,
    reach_m: float,
    off_m: float = 0.12,
    off_ns: float = 0.8,
    steepest_deg: float = 60.0,
    least_lines: int = 3,
) -> tuple[Ints, Float64]:
    """Join crossings that lie in a row on neighbouring parallel lines.

    A linear target crossed at an angle a from the perpendicular draws, on one line, the hyperbola of a
    velocity v / cos(a): the distance walked is longer than the distance from the target by 1/cos(a).

    Parameters
    ----------
    line : (event,) int64
        Line of each event.
    xy_m : (event, 2) float64
        Apex, local grid, metres.
    direction : (event, 2) float64
        Unit vector along the line walked, either way.
    time_ns : (event,) float64
        Two-way time of the apex.
    reach_m : float
        Farthest neighbour across the lines that is asked, metres.
    off_m, off_ns : float
        How far a crossing may lie off the row, along the line and in time.
    steepest_deg : float
        No angle above this is believed.
    least_lines : int
        Lines that a row needs; fewer is left as a point.

    Returns
    -------
    row : (event,) int64
        Number of the row each event belongs to; -1: none.
    angle_deg : (event,) float64
        Angle from the perpendicular, not negative; NaN: none.
    """
    count = len(line)
    angle = np.full(count, np.nan)
    partners: list[Ints] = [np.zeros(0, np.int64)] * count
    for i in range(count):
        u = direction[i]
        normal = np.array([-u[1], u[0]])
        off = xy_m - xy_m[i]
        across, along = off @ normal, off @ u
        parallel = (np.abs(direction @ u) > 0.97) & (line != line[i])
        near = parallel & (np.abs(across) > 0.05) & (np.abs(across) <= reach_m)
        near &= np.abs(along) <= np.tan(np.radians(steepest_deg)) * np.abs(across)
        near &= np.abs(time_ns - time_ns[i]) <= off_ns + np.abs(across)
        best, best_misfit = np.zeros(0, np.int64), np.inf
        for j in np.flatnonzero(near):
            slope = along[j] / across[j]
            dip = (time_ns[j] - time_ns[i]) / across[j]
            if abs(dip) > 2.0:
                continue
            inside = near & (np.abs(along - slope * across) <= off_m * np.hypot(1.0, slope))
            inside &= np.abs(time_ns - time_ns[i] - dip * across) <= off_ns
            row = np.flatnonzero(inside)
            more = len(np.unique(line[row])) - len(np.unique(line[best]))
            misfit = float(np.abs(along[row] - slope * across[row]).mean() / np.hypot(1.0, slope))
            if more > 0 or (more == 0 and misfit < best_misfit):
                best, best_misfit = row, misfit
        if len(np.unique(line[best])) >= least_lines - 1:
            partners[i] = best
            slope = float((along[best] * across[best]).sum() / (across[best] ** 2).sum())
            angle[i] = np.degrees(np.arctan(abs(slope)))
    row = _components(partners)
    for number in range(int(row.max(initial=-1)) + 1):
        own = row == number
        angle[own & np.isnan(angle)] = np.nanmedian(angle[own])
        _adopt(number, row, angle, xy_m, direction, time_ns, 2.0 * reach_m, off_m, off_ns)
    return row, angle


def match_pairs(
    row: Ints,
    line: Ints,
    xy_m: Float64,
    direction: Float64,
    time_ns: Float64,
    velocity: Float64,
    reach_m: float,
    off_ns: float = 0.8,
    off_velocity: float = 0.08,
    steepest_deg: float = 60.0,
) -> tuple[Ints, Float64]:
    """Find lone events that may be one straight target seen by two neighbouring lines, at a corner or an end.

    Parameters
    ----------
    row : (event,) int64
        From `match_crossings`; only events with -1 are looked at.
    line, xy_m, direction, time_ns, reach_m, off_ns, steepest_deg
        As in `match_crossings`.
    velocity : (event,) float64
        Velocity fitted to each event; both of a pair read the same, as they are crossed at the same angle.
    off_velocity : float
        Largest relative difference of their velocities.

    Returns
    -------
    partner : (event,) int64
        The other event, each one's nearest; -1: none.
    angle_deg : (event,) float64
        Angle of crossing if the two are one, from the perpendicular; NaN: none. Two points prove no line.
    """
    count = len(row)
    partner, angle = np.full(count, -1), np.full(count, np.nan)
    lone = row < 0
    nearest = np.full(count, -1)
    found = np.full(count, np.nan)
    for i in np.flatnonzero(lone):
        u = direction[i]
        off = xy_m - xy_m[i]
        across, along = np.abs(off @ np.array([-u[1], u[0]])), np.abs(off @ u)
        fits = lone & (line != line[i]) & (np.abs(direction @ u) > 0.97)
        fits &= (across > 0.05) & (across <= 0.5 * reach_m)
        fits &= along <= np.tan(np.radians(steepest_deg)) * across
        fits &= np.abs(time_ns - time_ns[i]) <= off_ns
        fits &= np.abs(np.log(velocity / velocity[i])) <= off_velocity
        if fits.any():
            j = int(np.where(fits, np.hypot(across, along), np.inf).argmin())
            nearest[i], found[i] = j, np.degrees(np.arctan2(along[j], across[j]))
    for i in np.flatnonzero(nearest >= 0):
        if nearest[nearest[i]] == i:
            partner[i], angle[i] = nearest[i], found[i]
    return partner, angle


def _adopt(
    number: int,
    row: Ints,
    angle: Float64,
    xy_m: Float64,
    direction: Float64,
    time_ns: Float64,
    reach_m: float,
    off_m: float,
    off_ns: float,
) -> None:
    """Let single crossings on the straight prolongation of a row join it; `row` and `angle` are changed."""
    own = np.flatnonzero(row == number)
    u = direction[own[0]]
    normal = np.array([-u[1], u[0]])
    if np.ptp(xy_m[own] @ normal) < 0.1:
        return
    across, along = (xy_m - xy_m[own].mean(axis=0)) @ normal, (xy_m - xy_m[own].mean(axis=0)) @ u
    line_fit, time_fit = (np.polyfit(across[own], values[own], 1) for values in (along, time_ns))
    slant = float(np.hypot(1.0, line_fit[0]))
    off = np.abs(along - np.polyval(line_fit, across)) / slant
    late = np.abs(time_ns - np.polyval(time_fit, across))
    if np.sqrt((off[own] ** 2).mean()) > off_m:
        return
    beyond = np.maximum(across[own].min() - across, across - across[own].max())
    joins = (row < 0) & (np.abs(direction @ u) > 0.97) & (beyond <= reach_m)
    joins &= (off <= 1.5 * off_m) & (late <= 1.5 * off_ns)
    row[joins] = number
    angle[joins] = np.degrees(np.arctan(abs(line_fit[0])))


def _components(partners: list[Ints]) -> Ints:
    """Give a number to each of the groups of events joined by partnership, -1 for those with no partner."""
    row = np.arange(len(partners))
    changed = True
    while changed:
        changed = False
        for i, others in enumerate(partners):
            for j in others:
                low = min(row[i], row[j])
                if row[i] != low or row[j] != low:
                    row[i] = row[j] = low
                    changed = True
    sizes = np.bincount(row, minlength=len(partners))
    row = np.where(sizes[row] > 1, row, -1)
    used = np.unique(row[row >= 0])
    return np.asarray(np.where(row >= 0, np.searchsorted(used, row), -1), dtype=np.int64)
