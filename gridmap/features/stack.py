"""The echo of a straight pipe, summed in phase over every trace near it.

A short piece of pipe at depth z that runs in direction b answers at every trace at a time that depends on the
distance p across it alone: t = sqrt(t0^2 + (2 p / v)^2), corrected for the antennas' separation. Summed along
that curve the echoes of a pipe add up; those of clutter do not. The same sum along two other curves tells what
is no pipe: the flat one, t = t0 (layers, ringing, stripes), and the curve of light in air, v = c.
Semblance: Neidell and Taner 1971.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numba as nb
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from gridmap.model import LIGHT_M_PER_NS, Bool, CleanLine, Float32, Float64, Int64, VelocityModel
from gridmap.threads import each, in_parts
from gridmap.velocity.signal import analytic_signal

APERTURE = math.tan(math.radians(38.0))
"""Widest limb summed, as tangent of the angle at the target: beyond it the ground's surface turns the phase."""
HALF_ALONG_M = 0.7
"""Traces farther along the pipe than this from its piece are not summed, metres."""
BIN_M = 0.25
OUTSIDE_M = 0.1
"""Farther beyond the outermost traces, what is imaged may be the mirror image of what lies on their other side."""
AT_ONCE = 128
"""Traces weighed together."""

Room = Callable[[tuple[int, ...]], NDArray[np.complex64]]
"""Gives an array of a shape, whatever is in it: in memory, or in a file where it would take too much of that."""


def in_memory(shape: tuple[int, ...]) -> NDArray[np.complex64]:
    """Give an array in memory."""
    return np.empty(shape, np.complex64)


def half_across_m(depth_m: Float64) -> Float64:
    """How far to either side of a pipe at each depth its traces are summed, metres."""
    return np.asarray(np.clip(depth_m * APERTURE + 0.05, 0.3, 1.2))


@dataclass(frozen=True)
class Gather:
    """All traces of a survey, made ready for sums along curves.

    Attributes
    ----------
    data : (trace, sample) complex64
        Analytic signal over the square root of its modulus, so that no single strong echo decides.
    x_m, y_m : (trace,) float32
        Local place.
    way : (2, trace) float32
        Direction of the line, as a unit vector.
    line : (trace,) int32
        Which line.
    bin_first : (square + 1,) int64
        Traces are sorted by squares of `BIN_M`, so that those near each other lie near in memory: first of each square.
    x_first_m, y_first_m : float
        Corner of the first square.
    bins : (int, int)
        Squares along y and x.
    interval_ns, separation_m : float
        Sample interval; transmitter to receiver.
    """

    data: NDArray[np.complex64]
    x_m: Float32
    y_m: Float32
    way: Float32
    line: NDArray[np.int32]
    bin_first: Int64
    x_first_m: float
    y_first_m: float
    bins: tuple[int, int]
    interval_ns: float
    separation_m: float

    def beyond_lines(self, xy_m: Float64, by_m: float = OUTSIDE_M) -> Bool:
        """Say which places (place, 2), metres, lie outside the rectangle of the traces by more than `by_m`."""
        low, high = (np.array([f(self.x_m), f(self.y_m)]) for f in (np.min, np.max))
        return np.asarray(((xy_m < low - by_m) | (xy_m > high + by_m)).any(axis=1))

    @classmethod
    def of(
        cls,
        lines: Sequence[CleanLine],
        interval_ns: float,
        separation_m: float,
        finest_m: float,
        room: Room = in_memory,
    ) -> Gather:
        """Gather the usable traces of all lines, no closer along it than `finest_m`, in an array of `room`."""
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
        places = np.concatenate(xy)
        first = places.min(axis=0) if len(places) else np.zeros(2)
        square = ((places - first) / BIN_M).astype(np.int64)
        bins = (int(square[:, 1].max()) + 1, int(square[:, 0].max()) + 1)
        number = square[:, 1] * bins[1] + square[:, 0]
        order = np.argsort(number, kind="stable")
        row = np.empty(len(order), np.int64)
        row[order] = np.arange(len(order))
        data = room((len(places), lines[0].traces.shape[1]))
        ends = np.cumsum([0, *(len(use) for use in picks)]).tolist()

        def fill(k: int) -> None:
            signal = analytic_signal(np.ascontiguousarray(lines[k].traces[picks[k]]))
            signal /= np.sqrt(np.maximum(np.abs(signal), np.float32(1e-20)))
            data[row[ends[k] : ends[k + 1]]] = signal

        each(fill, range(len(lines)))
        turn = np.concatenate(heading)[order]
        return cls(
            data,
            places[order, 0].astype(np.float32),
            places[order, 1].astype(np.float32),
            np.stack([np.cos(turn), np.sin(turn)]).astype(np.float32),
            np.concatenate(owner)[order],
            np.searchsorted(number[order], np.arange(bins[0] * bins[1] + 1)).astype(np.int64),
            float(first[0]),
            float(first[1]),
            bins,
            interval_ns,
            separation_m,
        )

    def nearest_line(self, xy_m: Float64) -> Int64:
        """Line of the trace nearest to each of (place, 2), (place,) int64."""
        return np.asarray(self.line[self.tree.query(xy_m)[1]], dtype=np.int64)

    @cached_property
    def tree(self) -> cKDTree:
        """Places of all traces; built once: on a large survey that takes longer than all that is asked of it."""
        return cKDTree(np.stack([self.x_m, self.y_m], axis=1).astype(np.float64))


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
    sums, reals = np.empty((len(order), 4), np.complex128), np.empty((len(order), 5))
    wide, angle = half_across_m(depth), np.ascontiguousarray(angle_rad[order])
    t0_ns, rms = velocity.two_way_ns(depth), velocity.rms_m_per_ns(depth)
    in_parts(
        lambda first, last: _stack(
            gather.data, gather.x_m, gather.y_m, gather.way, gather.bin_first, gather.x_first_m, gather.y_first_m,
            gather.bins[0], gather.bins[1], gather.interval_ns, gather.separation_m,
            x, y, wide, angle, t0_ns, rms, half_along_m, others, sums, reals, first, last,
        ),
        len(order), 50,
    )  # fmt: skip
    back = np.argsort(order, kind="stable")
    sums, reals = sums[back], reals[back]
    return StackSums(
        sums[:, 0], sums[:, 1], sums[:, 2], sums[:, 3], reals[:, 0], reals[:, 1], reals[:, 2], reals[:, 3],
        reals[:, 4].astype(np.int64),
    )  # fmt: skip


@nb.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _stack(  # type: ignore[no-untyped-def]
    data, x, y, way, bin_first, x_first, y_first, bins_y, bins_x, interval, separation,
    ex, ey, wide, angle, t0, rms, half_along, others, sums, reals, first, last,
):  # fmt: skip
    """Weights and samples of a run of traces are worked out side by side; then their values are fetched."""
    samples = data.shape[1]
    zero, one, half = np.float32(0.0), np.float32(1.0), np.float32(0.5)
    end = np.float32(samples)
    weight, at, up = np.empty(AT_ONCE, np.float32), np.empty(AT_ONCE, np.int32), np.empty(AT_ONCE, np.int32)
    per_along = np.float32(1.0 / half_along**2)
    for n in range(first, last):
        cos, sin = math.cos(angle[n]), math.sin(angle[n])
        half_across = wide[n]
        reach_x = abs(cos) * half_along + abs(sin) * half_across
        reach_y = abs(sin) * half_along + abs(cos) * half_across
        j0 = max(0, int((ex[n] - reach_x - x_first) / BIN_M))
        j1 = min(bins_x - 1, int((ex[n] + reach_x - x_first) / BIN_M))
        i0 = max(0, int((ey[n] - reach_y - y_first) / BIN_M))
        i1 = min(bins_y - 1, int((ey[n] + reach_y - y_first) / BIN_M))
        pipe = flat = air = whole = 0j
        power = power_flat = total = total2 = 0.0
        traces = 0
        late = int(t0[n] / interval + 0.5)
        if late >= samples:
            i1 = -1  # below the record
        px, py, c, s = np.float32(ex[n]), np.float32(ey[n]), np.float32(cos), np.float32(sin)
        deep2 = np.float32((0.5 * t0[n] * rms[n]) ** 2)
        per_speed = np.float32(1.0 / (rms[n] * interval))
        per_across = np.float32(1.0 / half_across**2)
        early2 = np.float32((t0[n] / interval) ** 2)
        per_light = np.float32((2.0 / (LIGHT_M_PER_NS * interval)) ** 2)
        aside = np.float32(0.5 * separation)
        for i in range(i0, i1 + 1):
            run_end = bin_first[i * bins_x + max(j0, j1 + 1)]
            for top in range(bin_first[i * bins_x + j0], run_end, AT_ONCE):
                many = min(AT_ONCE, run_end - top)
                xs, ys = x[top : top + many], y[top : top + many]
                ways_x, ways_y = way[0, top : top + many], way[1, top : top + many]
                for k in range(many):
                    dx, dy = xs[k] - px, ys[k] - py
                    along, across = dx * c + dy * s, dy * c - dx * s
                    # Half the separation as seen across the pipe.
                    off = aside * abs(ways_y[k] * c - ways_x[k] * s)
                    ahead, behind = across + off, across - off
                    t = (math.sqrt(ahead * ahead + deep2) + math.sqrt(behind * behind + deep2)) * per_speed
                    air_t = math.sqrt(early2 + across * across * per_light)
                    near = max(zero, one - along * along * per_along) * max(
                        zero, one - across * across * per_across
                    )
                    inside = t + half < end and (not others or air_t + half < end)
                    weight[k] = near if inside else zero
                    at[k] = np.int32(min(t + half, end))
                    up[k] = np.int32(min(air_t + half, end))
                for k in range(many):
                    w = weight[k]
                    if w <= zero:
                        continue
                    row = data[top + k]
                    a = row[at[k]]
                    square = a.real * a.real + a.imag * a.imag
                    pipe += w * a
                    whole += w * math.sqrt(square) * a
                    power += w * w * square
                    total += w
                    total2 += w * w
                    traces += 1
                    if others:
                        f = row[late]
                        flat += w * f
                        air += w * row[up[k]]
                        power_flat += w * w * (f.real * f.real + f.imag * f.imag)
        sums[n, 0], sums[n, 1], sums[n, 2], sums[n, 3] = pipe, flat, air, whole
        reals[n, 0], reals[n, 1], reals[n, 2], reals[n, 3] = power, power_flat, total, total2
        reals[n, 4] = traces
