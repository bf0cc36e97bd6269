"""The echo of a straight pipe, summed in phase over every trace near it.

A short piece of pipe at depth z that runs in direction b answers at every trace at a time that depends on the
distance p across it alone: t = sqrt(t0^2 + (2 p / v)^2), corrected for the antennas' separation. Summed along
that curve the echoes of a pipe add up; those of clutter do not. The same sum along two other curves tells what
is no pipe: the flat one, t = t0 (layers, ringing, stripes), and the curve of light in air, v = c.
Semblance: Neidell and Taner 1971.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numba as nb
import numpy as np
from numpy.typing import NDArray

from gridmap.features.threads import threads_for
from gridmap.model import CleanLine, Float32, Float64, Int64, VelocityModel
from gridmap.velocity.signal import analytic_signal

APERTURE = math.tan(math.radians(38.0))
"""Widest limb summed, as tangent of the angle at the target: beyond it the ground's surface turns the phase."""
HALF_ALONG_M = 0.7
"""Traces farther along the pipe than this from its piece are not summed, metres."""
BIN_M = 0.25


def half_across_m(depth_m: Float64) -> Float64:
    """How far to either side of a pipe at each depth its traces are summed, metres."""
    return np.asarray(np.clip(depth_m * APERTURE + 0.05, 0.3, 1.2))


@dataclass(frozen=True, slots=True)
class Gather:
    """All traces of a survey, made ready for sums along curves.

    Attributes
    ----------
    data : (trace, sample) complex64
        Analytic signal over the square root of its modulus, so that no single strong echo decides.
    xy_m : (trace, 2) float32
        Local place.
    heading : (trace,) float32
        Direction of the line, radians from x.
    line : (trace,) int32
        Which line.
    bin_first, bin_trace : int64
        Traces sorted by squares of `BIN_M`: first index of each square, and the traces.
    x_first_m, y_first_m : float
        Corner of the first square.
    bins : (int, int)
        Squares along y and x.
    interval_ns, separation_m : float
        Sample interval; transmitter to receiver.
    """

    data: NDArray[np.complex64]
    xy_m: Float32
    heading: Float32
    line: NDArray[np.int32]
    bin_first: Int64
    bin_trace: Int64
    x_first_m: float
    y_first_m: float
    bins: tuple[int, int]
    interval_ns: float
    separation_m: float

    @classmethod
    def of(
        cls, lines: Sequence[CleanLine], interval_ns: float, separation_m: float, finest_m: float
    ) -> Gather:
        """Gather the usable traces of all lines, no closer along a line than about `finest_m`."""
        picks, xy, heading, owner = [], [], [], []
        for k, ln in enumerate(lines):
            spacing = float(np.median(np.diff(ln.along_m))) if len(ln.along_m) > 1 else finest_m
            every = np.arange(0, len(ln.xy_m), max(1, int(finest_m / max(spacing, 1e-6) + 0.01)))
            use = every[ln.usable[every]]
            picks.append(use)
            xy.append(ln.xy_m[use])
            step = np.gradient(ln.xy_m, axis=0)[use] if len(ln.xy_m) > 1 else np.ones((len(use), 2))
            heading.append(np.arctan2(step[:, 1], step[:, 0]))
            owner.append(np.full(len(use), k, np.int32))
        ends = np.cumsum([0, *(len(use) for use in picks)])
        data = np.empty((ends[-1], lines[0].traces.shape[1]), np.complex64)
        for ln, use, first_row in zip(lines, picks, ends, strict=False):
            signal = analytic_signal(np.ascontiguousarray(ln.traces[use]))
            data[first_row : first_row + len(use)] = signal / np.sqrt(
                np.maximum(np.abs(signal), np.float32(1e-20))
            )
        places = np.concatenate(xy)
        first = places.min(axis=0) if len(places) else np.zeros(2)
        square = ((places - first) / BIN_M).astype(np.int64)
        bins = (int(square[:, 1].max()) + 1, int(square[:, 0].max()) + 1)
        number = square[:, 1] * bins[1] + square[:, 0]
        order = np.argsort(number, kind="stable")
        return cls(
            data,
            places.astype(np.float32),
            np.concatenate(heading).astype(np.float32),
            np.concatenate(owner),
            np.searchsorted(number[order], np.arange(bins[0] * bins[1] + 1)).astype(np.int64),
            order.astype(np.int64),
            float(first[0]),
            float(first[1]),
            bins,
            interval_ns,
            separation_m,
        )


@dataclass(frozen=True, slots=True)
class StackSums:
    """Sums over the traces near each piece of pipe; (piece,) each.

    Attributes
    ----------
    pipe, flat, air : complex128
        Weighted sum of the signal along the pipe's curve, along t = t0, and along the curve of light in air.
    whole : complex128
        As `pipe`, of the signal with its own modulus.
    power, power_flat : float64
        Sum of squared weight times squared modulus along the pipe's curve and along the flat one.
    weight, weight2 : float64
        Sum of weights and of their squares.
    count : int64
        Traces.
    """

    pipe: NDArray[np.complex128]
    flat: NDArray[np.complex128]
    air: NDArray[np.complex128]
    whole: NDArray[np.complex128]
    power: Float64
    power_flat: Float64
    weight: Float64
    weight2: Float64
    count: Int64

    @property
    def quality(self) -> Float64:
        """Modulus of the sum over what random phases would give: about 1 where there is nothing."""
        return np.asarray(np.abs(self.pipe) / np.sqrt(np.maximum(self.power, 1e-30)))

    @property
    def amplitude(self) -> Float64:
        """Modulus of the mean of the whole signal along the pipe's curve, in the data's unit."""
        return np.asarray(np.abs(self.whole) / np.maximum(self.weight, 1e-30))

    @property
    def coherence(self) -> Float64:
        """Semblance with weights, 0 to 1."""
        most = self.weight**2 * self.power / np.maximum(self.weight2, 1e-30)
        return np.asarray(np.abs(self.pipe) ** 2 / np.maximum(most, 1e-30))


def stack_pieces(
    gather: Gather,
    velocity: VelocityModel,
    xyz_m: Float64,
    angle_rad: Float64,
    *,
    half_along_m: float = HALF_ALONG_M,
    others: bool = True,
) -> StackSums:
    """Sum the traces near pieces of pipe along their curves.

    Parameters
    ----------
    gather : Gather
        The traces.
    velocity : VelocityModel
        Gives t0 and the RMS velocity at each depth.
    xyz_m : (piece, 3) float64
        Local x, y and depth, metres.
    angle_rad : (piece,) float64
        Direction of the pipe in plan, from x.
    half_along_m : float
        Half length of the piece, metres.
    others : bool
        Whether the flat curve and that of light in air are summed too; without, their sums stay zero.

    Returns
    -------
    StackSums
        Zero where no trace is near.
    """
    # Neighbours one after another, so that the traces they share stay in the processor's cache.
    square = np.floor(xyz_m[:, :2] / (2 * BIN_M)).astype(np.int64)
    order = np.lexsort((xyz_m[:, 2], square[:, 0], square[:, 1]))
    x, y, depth = (np.ascontiguousarray(c) for c in xyz_m[order].T)
    depth = np.maximum(depth, 0.02)
    with threads_for(len(depth)):
        sums, reals = _stack(
            gather.data, gather.xy_m, gather.heading, gather.bin_first, gather.bin_trace,
            gather.x_first_m, gather.y_first_m, gather.bins[0], gather.bins[1], gather.interval_ns, gather.separation_m,
            x, y, half_across_m(depth), np.ascontiguousarray(angle_rad[order]),
            velocity.two_way_ns(depth), velocity.rms_m_per_ns(depth), half_along_m, others,
        )  # fmt: skip
    back = np.argsort(order, kind="stable")
    sums, reals = sums[back], reals[back]
    return StackSums(
        sums[:, 0], sums[:, 1], sums[:, 2], sums[:, 3], reals[:, 0], reals[:, 1], reals[:, 2], reals[:, 3],
        reals[:, 4].astype(np.int64),
    )  # fmt: skip


@nb.njit(parallel=True, cache=True, fastmath=True)
def _stack(  # type: ignore[no-untyped-def]
    data, xy, heading, bin_first, bin_trace, x_first, y_first, bins_y, bins_x, interval, separation,
    ex, ey, wide, angle, t0, rms, half_along, others,
):  # fmt: skip
    count = len(ex)
    sums = np.zeros((count, 4), np.complex128)
    reals = np.zeros((count, 5))
    samples = data.shape[1]
    for n in nb.prange(count):
        cos, sin = math.cos(angle[n]), math.sin(angle[n])
        half_across = wide[n]
        reach_x = abs(cos) * half_along + abs(sin) * half_across
        reach_y = abs(sin) * half_along + abs(cos) * half_across
        j0 = max(0, int((ex[n] - reach_x - x_first) / BIN_M))
        j1 = min(bins_x - 1, int((ex[n] + reach_x - x_first) / BIN_M))
        i0 = max(0, int((ey[n] - reach_y - y_first) / BIN_M))
        i1 = min(bins_y - 1, int((ey[n] + reach_y - y_first) / BIN_M))
        pipe = flat = air = whole = 0j
        power = power_flat = weight = weight2 = 0.0
        traces = 0
        speed = rms[n]
        deep = 0.5 * t0[n] * speed
        late = int(t0[n] / interval + 0.5)
        for i in range(i0, i1 + 1):
            for k in range(bin_first[i * bins_x + j0], bin_first[i * bins_x + j1 + 1]):
                m = bin_trace[k]
                dx, dy = xy[m, 0] - ex[n], xy[m, 1] - ey[n]
                along, across = dx * cos + dy * sin, dy * cos - dx * sin
                if abs(along) >= half_along or abs(across) >= half_across:
                    continue
                taper = 1.0 - (along / half_along) ** 2
                w = taper * (1.0 - (across / half_across) ** 2)
                # Half the separation as seen across the pipe.
                half = 0.5 * separation * abs(math.sin(heading[m] - angle[n]))
                ahead, behind = across + half, across - half
                t = (
                    math.sqrt(ahead * ahead + deep * deep) + math.sqrt(behind * behind + deep * deep)
                ) / speed
                at = int(t / interval + 0.5)
                if at >= samples or late >= samples:
                    continue
                a = data[m, at]
                if others:
                    away = 2.0 * across / 0.299792458
                    up = int(math.sqrt(t0[n] * t0[n] + away * away) / interval + 0.5)
                    if up >= samples:
                        continue
                    f = data[m, late]
                    flat += w * f
                    air += w * data[m, up]
                    power_flat += w * w * (f.real * f.real + f.imag * f.imag)
                square = a.real * a.real + a.imag * a.imag
                pipe += w * a
                whole += w * math.sqrt(square) * a
                power += w * w * square
                weight += w
                weight2 += w * w
                traces += 1
        sums[n, 0], sums[n, 1], sums[n, 2], sums[n, 3] = pipe, flat, air, whole
        reals[n, 0], reals[n, 1], reals[n, 2], reals[n, 3], reals[n, 4] = (
            power,
            power_flat,
            weight,
            weight2,
            traces,
        )
    return sums, reals
