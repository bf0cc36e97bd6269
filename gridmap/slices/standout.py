"""What stands out in the volume, in plain numbers: no interpretation, only where the strong echoes lie."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from gridmap.model import Bool, Float32, Float64, Grid

WORTH_SAYING = 8.0
"""Weaker bodies than this many times the usual level are not listed."""


@dataclass(frozen=True, slots=True)
class Standout:
    """One connected body of strong echoes.

    Attributes
    ----------
    x_m, y_m : float
        Centre in the local grid, metres.
    depth_m : float
        Depth of its strongest level, metres.
    length_m, width_m : float
        Extent along and across its long axis in plan, metres.
    bearing_deg : float
        Direction of the long axis in the local grid, degrees anticlockwise from x, 0 to 180.
    strength : float
        Strongest value over the usual level at that depth.
    """

    x_m: float
    y_m: float
    depth_m: float
    length_m: float
    width_m: float
    bearing_deg: float
    strength: float

    @property
    def long(self) -> bool:
        """At least three times as long as wide."""
        return self.length_m >= 3.0 * self.width_m


def over_usual_level(values: Float32) -> Float32:
    """Divide each depth by the usual level there, the median over the cells that have a value.

    Parameters
    ----------
    values : (depth, row, column) float32
        Envelope; zero or NaN where blank.

    Returns
    -------
    (depth, row, column) float32
        1 is usual; the medians are smoothed over a few depths first.
    """
    known = [v[v > 0] for v in values]
    level = np.array([np.median(v[:: max(1, len(v) // 20_000)]) if len(v) else np.inf for v in known])
    smooth = np.maximum(ndimage.gaussian_filter1d(level, 3, mode="nearest"), 1e-30)
    return np.asarray(values / smooth[:, None, None], dtype=np.float32)


def find_standouts(
    values: Float32, depth_m: Float64, grid: Grid, from_m: float, most: int = 6
) -> list[Standout]:
    """List the strongest connected bodies of a volume.

    Parameters
    ----------
    values : (depth, row, column) float32
        Envelope; NaN where blank.
    depth_m : (depth,) float64
        Metres, increasing.
    grid : Grid
        Cells of the last two axes.
    from_m : float
        Shallower levels are left out: the direct wave's remains are there.
    most : int
        Longest list wanted.

    Returns
    -------
    list of Standout
        Strongest first. Each grows from the strongest cell left, over cells joined to it that hold at least 0.4
        of its strength and exceed four times their depth's median level; smaller ones than 0.05 square metres
        in plan are left out. This project's own rule: a help for reading slices, not detection with a known
        rate of error.
    """
    first = int(np.searchsorted(depth_m, from_m))
    part = values[first:]
    coarse = 1 + int(part.size > 3_000_000) + int(part.size > 30_000_000)
    part = np.nan_to_num(part[::coarse, ::coarse, ::coarse])
    if part.size == 0:
        return []
    cell_m = grid.cell_m * coarse
    ratio = over_usual_level(part)
    flank = max(2, math.ceil(0.3 / cell_m))
    found: list[Standout] = []
    for _ in range(4 * most):
        seed = np.unravel_index(int(ratio.argmax()), ratio.shape)
        strength = float(ratio[seed])
        if strength < WORTH_SAYING or len(found) == most:
            break
        body, _ = ndimage.label(ratio > max(4.0, 0.4 * strength), structure=np.ones((3, 3, 3)))
        box = ndimage.find_objects((body == body[seed]).astype(np.int8))[0]
        inside = body[box] == body[seed]
        row, column = np.nonzero(inside.any(axis=0))
        if len(row) * cell_m**2 >= 0.05:
            x = np.asarray(grid.x_first_m + cell_m * (column + box[2].start), dtype=np.float64)
            y = np.asarray(grid.y_first_m + cell_m * (row + box[1].start), dtype=np.float64)
            found.append(_measure(x, y, float(depth_m[first + coarse * seed[0]]), strength, cell_m))
        _erase(ratio, inside, box, (4, flank, flank))
    return found


def _erase(ratio: Float32, inside: Bool, box: tuple[slice, ...], margin: tuple[int, int, int]) -> None:
    """Set a body and what lies within `margin` of it to zero: flanks and near repeats belong to it."""
    wide = np.pad(inside, [(m, m) for m in margin])
    for axis, m in enumerate(margin):
        wide = ndimage.maximum_filter1d(wide, 2 * m + 1, axis=axis)
    target, source = [], []
    for b, m, size in zip(box, margin, ratio.shape, strict=True):
        low, high = max(0, b.start - m), min(size, b.stop + m)
        target.append(slice(low, high))
        source.append(slice(low - b.start + m, high - b.start + m))
    ratio[tuple(target)][wide[tuple(source)]] = 0.0


def _measure(x: Float64, y: Float64, depth_m: float, strength: float, cell_m: float) -> Standout:
    """Extent along the principal axes of the cells (Pearson 1901)."""
    centre = np.array([x.mean(), y.mean()])
    offset = np.stack([x, y], axis=1) - centre
    axis = np.linalg.eigh(offset.T @ offset)[1][:, 1]
    along, across = offset @ axis, offset @ np.array([-axis[1], axis[0]])
    bearing = math.degrees(math.atan2(axis[1], axis[0])) % 180.0
    length = float(np.ptp(along)) + cell_m
    width = len(x) * cell_m**2 / length
    return Standout(
        float(centre[0]),
        float(centre[1]),
        depth_m,
        length,
        min(width, float(np.ptp(across)) + cell_m),
        bearing,
        strength,
    )


def in_words(standout: Standout, depth_sd_m: float, rotation_deg: float = 0.0) -> str:
    """Describe one body in a sentence a client understands; says where, how deep and how sure, not what.

    Parameters
    ----------
    standout : Standout
        The body.
    depth_sd_m : float
        One standard deviation of its depth, metres.
    rotation_deg : float
        Turn of local x from the map's east, anticlockwise; the bearing is given on the map.

    Returns
    -------
    str
        One sentence.
    """
    shape = "A long, narrow echo" if standout.long else "A compact echo"
    bearing = (90.0 - standout.bearing_deg - rotation_deg) % 180.0
    size = (
        f"about {standout.length_m:.1f} m long on a bearing of {bearing:.0f} or {bearing + 180:.0f} degrees"
        if standout.long
        else f"about {standout.length_m:.1f} by {standout.width_m:.1f} m in plan"
    )
    return (
        f"{shape} {size}, strongest {standout.depth_m:.2f} m deep (1 sigma {depth_sd_m:.2f} m), "
        f"centred near x {standout.x_m:.1f}, y {standout.y_m:.1f} m, {standout.strength:.0f} times the usual level."
    )
