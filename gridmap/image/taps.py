"""Taps: which sample of which neighbour a Kirchhoff sum takes, with what weight, for every depth.

In flat layers these depend on the depth and the distance between cells alone, so they are found once for a survey:
the sum itself holds no square root, and layers cost no more than one velocity.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gridmap.image.lowpass import Ladder
from gridmap.image.travel import one_way_ns
from gridmap.model import Float32, Float64, VelocityModel

NEVER = -1
"""Level of a tap that is not summed."""


@dataclass(frozen=True, slots=True)
class Taps:
    """The operator; axes (depth, cells across, cells along), distances from 0 up, the same on both sides.

    Attributes
    ----------
    sample : (depth, across, along) int32
        Which sample to take.
    weight : (depth, across, along) float32
        Obliquity and aperture taper.
    level : (depth, across, along) int8
        Which rung of the low-pass ladder to take it from; `NEVER`: outside the aperture, the record or the band.
    """

    sample: NDArray[np.int32]
    weight: Float32
    level: NDArray[np.int8]

    def for_fold(self, every: int, passed: Float64) -> Taps:
        """Return the taps that sum weights instead of data, at every so many depths.

        Parameters
        ----------
        every : int
            1 for all depths.
        passed : (level,) float64
            Share of the signal that each rung of the ladder passes.
        """
        level = self.level[::every]
        weight = self.weight[::every] * passed.astype(np.float32)[level]
        return Taps(np.zeros_like(self.sample[::every]), weight, np.minimum(level, 0).astype(np.int8))

    def without_across(self) -> Taps:
        """Return the taps along the row alone."""
        return replace(self, sample=self.sample[:, :1], weight=self.weight[:, :1], level=self.level[:, :1])


def find_taps(
    velocity: VelocityModel,
    depth_m: Float64,
    cell_m: float,
    separation_m: float,
    interval_ns: float,
    samples: int,
    angle_deg: float,
    reach_m: float,
    spacing_m: tuple[float, float],
    ladder: Ladder,
    across: bool = True,
) -> Taps:
    """Find the taps of a survey.

    Parameters
    ----------
    velocity : VelocityModel
        Flat layers; times are those of exact rays.
    depth_m : (depth,) float64
        Depths of the image, metres.
    cell_m, separation_m : float
        Cell side; distance from transmitter to receiver, along the rows, metres.
    interval_ns, samples
        Of the traces; sample 0 is time zero.
    angle_deg : float
        Widest angle from the vertical.
    reach_m : float
        No farther than this, metres.
    spacing_m : (float, float)
        Of the traces along the rows and of the lines across, metres: what the operator must not alias on.
    ladder : Ladder
        Low-passed copies of the data to choose from.
    across : bool
        False: along the row alone.

    Returns
    -------
    Taps
        Obliquity z over slant distance (Schneider 1978), an aperture taper, and the rung that holds nothing above
        the operator's alias limit 1 / (2 spacing |dt/dx|) (Lumley, Claerbout and Bevc 1994; copies filtered
        beforehand: Gray 1992).
    """
    tangent = math.tan(math.radians(angle_deg))
    along_m = np.minimum(np.maximum(depth_m * tangent, 1.5 * cell_m), reach_m)
    across_m = np.minimum(np.maximum(depth_m * tangent, 0.75 * cell_m), reach_m)
    x: Float64 = np.asarray(cell_m * np.arange(int(along_m.max() / cell_m) + 1), dtype=float)
    y: Float64 = np.asarray(
        cell_m * np.arange((int(across_m.max() / cell_m) if across else 0) + 1), dtype=float
    )
    far = math.hypot(x[-1] + 0.5 * separation_m, y[-1]) + 2 * cell_m
    node = np.linspace(0.0, far, max(8, math.ceil(4 * far / cell_m)))
    square = one_way_ns(velocity, depth_m, node) ** 2
    legs: list[Float64] = [x[None, :] + sign * 0.5 * separation_m for sign in (-1, 1)]
    time = np.empty((len(depth_m), len(y), len(x)))
    slope_x, slope_y = np.empty_like(time), np.empty_like(time)
    for k in range(len(depth_m)):
        time[k], slope_x[k], slope_y[k] = _two_legs(legs, y[:, None], node, square[k])
    taper = (x / along_m[:, None])[:, None, :] ** 2 + (y / across_m[:, None])[:, :, None] ** 2
    slant = np.sqrt(depth_m[:, None, None] ** 2 + y[:, None] ** 2 + x**2)
    weight = np.maximum(1 - taper, 0.0) * depth_m[:, None, None] / (slant + 1e-9)
    sample = np.rint(time / interval_ns)
    steepest = np.maximum(spacing_m[0] * slope_x, spacing_m[1] * slope_y)
    level = ladder.rung_below(1e3 / (2 * np.maximum(steepest, 1e-9)))
    level[(taper > 1) | (sample >= samples)] = NEVER
    return Taps(np.minimum(sample, samples - 1).astype(np.int32), weight.astype(np.float32), level)


def _two_legs(
    legs: list[Float64], y: Float64, node: Float64, square: Float64
) -> tuple[Float64, Float64, Float64]:
    """Two-way time at one depth and its slopes along and across, ns and ns/m.

    The square of the time is all but linear in the square of the offset (exactly so at one velocity).
    """
    total, along, across = (np.zeros(np.broadcast(legs[0], y).shape) for _ in range(3))
    rise = np.append(np.diff(square) / np.diff(node**2), 0.0)
    rise[-1] = rise[-2]
    for leg in legs:
        h = np.hypot(leg, y)
        time = np.sqrt(np.interp(h * h, node**2, square))
        slope = rise[np.minimum(np.searchsorted(node, h, side="right") - 1, len(rise) - 1)] / np.maximum(
            time, 1e-9
        )
        total += time
        along += slope * leg
        across += slope * y
    return total, np.abs(along), np.abs(across)
