"""The echo of something small, summed in phase over every trace near it.

What is small in every direction answers at distance r at t = sqrt(t0^2 + (2 r / v)^2) whichever way a trace lies from
it (diffraction summation: Hagedoorn 1954). A pipe answers so across it only, a flat layer nowhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numba as nb
import numpy as np
from numpy.typing import NDArray

from gridmap.features.stack import BIN_M, Gather, half_across_m
from gridmap.model import Float64, Int64, VelocityModel
from gridmap.threads import in_parts


@dataclass(frozen=True, slots=True)
class PointSums:
    """Sums over the traces near each place; (place,) each.

    Attributes
    ----------
    point, whole : complex128
        Weighted sum along the curve of the evened signal (see `Gather`), and of the signal with its own modulus.
    flat : complex128
        As `point`, along t = t0.
    power : float64
        Sum of squared weight times squared modulus along the curve.
    weight, weight2 : float64
        Sum of weights and of their squares.
    count : int64
        Traces.
    """

    point: NDArray[np.complex128]
    whole: NDArray[np.complex128]
    flat: NDArray[np.complex128]
    power: Float64
    weight: Float64
    weight2: Float64
    count: Int64

    @property
    def quality(self) -> Float64:
        """Modulus of the sum over what random phases would give: about 1 where there is nothing."""
        return np.asarray(np.abs(self.point) / np.sqrt(np.maximum(self.power, 1e-30)))

    @property
    def amplitude(self) -> Float64:
        """Modulus of the mean of the whole signal along the curve, in the data's unit."""
        return np.asarray(np.abs(self.whole) / np.maximum(self.weight, 1e-30))

    @property
    def coherence(self) -> Float64:
        """Semblance with weights, 0 to 1 (Neidell and Taner 1971)."""
        most = self.weight**2 * self.power / np.maximum(self.weight2, 1e-30)
        return np.asarray(np.abs(self.point) ** 2 / np.maximum(most, 1e-30))


def sum_places(
    gather: Gather, velocity: VelocityModel, xyz_m: Float64, line: Int64 | None = None
) -> PointSums:
    """Sum the traces about places along the curve of something small.

    Parameters
    ----------
    gather : Gather
        The traces.
    velocity : VelocityModel
        Gives t0 and the RMS velocity at each depth.
    xyz_m : (place, 3) float64
        Local x, y and depth, metres.
    line : (place,) int64 or None
        The one line asked at each place; None: all.

    Returns
    -------
    PointSums
        Zero where no trace is near. Traces as far off are summed as across a pipe (`half_across_m`), those in the
        middle with most weight.
    """
    depth = np.maximum(xyz_m[:, 2], 0.02)
    only = np.full(len(depth), -1, np.int64) if line is None else np.asarray(line, np.int64)
    given = (
        gather.data, gather.x_m, gather.y_m, gather.way, gather.line, gather.bin_first, gather.x_first_m,
        gather.y_first_m, gather.bins[0], gather.bins[1], gather.interval_ns, gather.separation_m,
        np.ascontiguousarray(xyz_m[:, 0]), np.ascontiguousarray(xyz_m[:, 1]), half_across_m(depth),
        velocity.two_way_ns(depth), velocity.rms_m_per_ns(depth), only,
    )  # fmt: skip
    sums, reals = np.zeros((len(depth), 3), np.complex128), np.zeros((len(depth), 4))
    in_parts(lambda first, last: _sum(first, last, sums, reals, *given), len(depth), least=16)
    return PointSums(
        sums[:, 0],
        sums[:, 1],
        sums[:, 2],
        reals[:, 0],
        reals[:, 1],
        reals[:, 2],
        reals[:, 3].astype(np.int64),
    )


@nb.njit(nogil=True, cache=True, fastmath=True)
def _sum(  # type: ignore[no-untyped-def]
    first, last, sums, reals, data, x, y, way, line, bin_first, x_first, y_first, bins_y, bins_x,
    interval, separation, ex, ey, wide, t0, rms, only,
):  # fmt: skip
    samples = data.shape[1]
    for n in range(first, last):
        reach = wide[n]
        j0 = max(0, int((ex[n] - reach - x_first) / BIN_M))
        j1 = min(bins_x - 1, int((ex[n] + reach - x_first) / BIN_M))
        i0 = max(0, int((ey[n] - reach - y_first) / BIN_M))
        i1 = min(bins_y - 1, int((ey[n] + reach - y_first) / BIN_M))
        point = whole = flat = 0j
        power = weight = weight2 = 0.0
        traces = 0
        deep = 0.5 * t0[n] * rms[n]
        late = int(t0[n] / interval + 0.5)
        for i in range(i0, i1 + 1):
            for m in range(bin_first[i * bins_x + j0], bin_first[i * bins_x + max(j0, j1 + 1)]):
                if only[n] >= 0 and line[m] != only[n]:
                    continue
                dx, dy = x[m] - ex[n], y[m] - ey[n]
                away2 = dx * dx + dy * dy
                if away2 >= reach * reach:
                    continue
                # Transmitter and receiver stand half the separation before and behind, along the line.
                along = dx * way[0, m] + dy * way[1, m]
                far2 = away2 + 0.25 * separation * separation + deep * deep
                t = (math.sqrt(far2 + along * separation) + math.sqrt(far2 - along * separation)) / rms[n]
                at = int(t / interval + 0.5)
                if at >= samples or late >= samples:
                    continue
                w = 1.0 - away2 / (reach * reach)
                a = data[m, at]
                square = a.real * a.real + a.imag * a.imag
                point += w * a
                whole += w * math.sqrt(square) * a
                flat += w * data[m, late]
                power += w * w * square
                weight += w
                weight2 += w * w
                traces += 1
        sums[n, 0], sums[n, 1], sums[n, 2] = point, whole, flat
        reals[n, 0], reals[n, 1], reals[n, 2], reals[n, 3] = power, weight, weight2, traces
