"""Footings: a region that is no rectangle but two or more straight strips is taken apart into its legs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import ndimage

from gridmap.features.outline_regions import Region
from gridmap.model import Bool

POOR_FILL = 0.62
"""A region that fills less of its smallest rectangle is taken apart."""
STEP_DEG = 5
LEAST_SHARE = 0.15
"""What remains is a leg where it holds this share of the region."""
LONG = 1.6
"""A leg is at least this many times as long as the strip is wide."""
MOST_LEGS = 6


def fill(region: Region) -> float:
    """Share of its smallest rectangle (over all turns) that a region fills."""
    rows, columns = np.nonzero(region.inside)
    turn = np.radians(np.arange(0, 90, STEP_DEG))
    u = np.outer(np.cos(turn), columns) + np.outer(np.sin(turn), rows)
    v = np.outer(np.cos(turn), rows) - np.outer(np.sin(turn), columns)
    area = (np.ptp(u, axis=1) + 1) * (np.ptp(v, axis=1) + 1)
    return float(len(rows) / area.min())


def legs_of(region: Region, width_cells: float) -> list[Region]:
    """Take a region apart into straight strips.

    Parameters
    ----------
    region : Region
        Connected cells.
    width_cells : float
        Usual width of the strip, in cells.

    Returns
    -------
    list of Region
        The longest first; each has the cells of the other legs in `other`, not to be fitted with it. The strip that
        holds most cells over all turns (every five degrees) and places is cut out, until less than `LEAST_SHARE` is
        left. Empty where fewer than two legs are found.
    """
    rest = region.inside.copy()
    least = max(LEAST_SHARE * region.inside.sum(), LONG * width_cells**2)
    legs: list[Bool] = []
    while rest.sum() >= least and len(legs) < MOST_LEGS:
        strip = _best_strip(rest, width_cells)
        label, count = ndimage.label(strip, np.ones((3, 3)))
        if count == 0:
            break
        sizes = ndimage.sum_labels(strip, label, np.arange(1, count + 1))
        leg = label == 1 + int(np.argmax(sizes))
        if leg.sum() < least:
            break
        legs.append(leg)
        rest &= ~ndimage.binary_dilation(leg, iterations=max(1, round(0.25 * width_cells)))
    if len(legs) < 2:
        return []
    return [
        replace(region, inside=leg, other=np.any([b for b in legs if b is not leg], axis=0) & ~leg)
        for leg in legs
    ]


def _best_strip(cells: Bool, width_cells: float) -> Bool:
    """Cells in the straight strip of a width that holds most of them."""
    rows, columns = np.nonzero(cells)
    best, keep = -1, np.zeros(len(rows), bool)
    width = max(1, round(width_cells))
    for turn in np.radians(np.arange(0, 180, STEP_DEG)):
        across = np.cos(turn) * rows - np.sin(turn) * columns
        place = np.floor(across - across.min()).astype(int)
        inside = np.convolve(np.bincount(place), np.ones(width))
        k = int(inside.argmax())
        if inside[k] > best:
            best = int(inside[k])
            keep = (place > k - width) & (place <= k)
    out = np.zeros_like(cells)
    out[rows[keep], columns[keep]] = True
    return out
