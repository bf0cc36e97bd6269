"""Sums in phase at many places about the vertices of one path: the traces near a vertex are gone through once.

Beside a vertex the same traces answer for every place that is tried; only their curves differ. Trace by trace the
samples wanted lie close together in memory, and times and weights of all places are worked out side by side.
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from gridmap.features.stack import BIN_M, HALF_ALONG_M, Gather, half_across_m
from gridmap.features.threads import threads_for
from gridmap.model import Float32, Float64, Int64, VelocityModel


def amplitude_of_states(
    gather: Gather,
    velocity: VelocityModel,
    nodes_m: Float64,
    angle_rad: Float64,
    aside_m: Float64,
    below_m: Float64,
) -> Float64:
    """Amplitude of the sum along a pipe's curve at places across and below the vertices of a path.

    Parameters
    ----------
    gather : Gather
        The traces.
    velocity : VelocityModel
        Gives t0 and the RMS velocity at each depth.
    nodes_m : (vertex, 3) float64
        Local x, y and depth, metres.
    angle_rad : (vertex,) float64
        Direction of the pipe in plan, from x.
    aside_m : (side,) float64
        Moves across the pipe, positive to the left of its direction, metres.
    below_m : (level,) float64
        Moves in depth, metres.

    Returns
    -------
    (vertex, side, level) float64
        As `gridmap.features.stack.StackSums.amplitude`; sums are held in single precision.
    """
    sides = len(aside_m)
    depth = np.maximum(nodes_m[:, 2:] + below_m, 0.02)
    t0, rms = _times(velocity, depth)
    wide, t0, rms = (np.tile(c, (1, sides)) for c in (half_across_m(depth), t0, rms))
    anyone = np.full(len(nodes_m), -1, np.int64)
    sums, _ = _sum(gather, nodes_m, angle_rad, wide, t0, rms, np.repeat(aside_m, len(below_m)), anyone, True)
    amplitude = np.hypot(sums[..., 0], sums[..., 1]) / np.maximum(sums[..., 3], 1e-30)
    return np.asarray(amplitude.reshape(len(nodes_m), sides, len(below_m)), dtype=np.float64)


def coherence_on_lines(
    gather: Gather,
    velocity: VelocityModel,
    places_m: Float64,
    angle_rad: Float64,
    moves_m: Float64,
    line: Int64,
    least: int,
) -> Float64:
    """Semblance of one line's traces along a pipe's curve, at each place and moved from it.

    Parameters
    ----------
    gather, velocity, places_m, angle_rad
        As `amplitude_of_states`; (place, 3) and (place,).
    moves_m : (move, 2) float64
        Aside and below, metres.
    line : (place,) int64
        The line asked at each place.
    least : int
        Fewer traces than this tell nothing: 0.

    Returns
    -------
    (place, move) float64
        As `gridmap.features.stack.StackSums.coherence`.
    """
    below, which = np.unique(moves_m[:, 1], return_inverse=True)
    depth = np.maximum(places_m[:, 2:] + below, 0.02)
    wide, t0, rms = (np.take(c, which, axis=1) for c in (half_across_m(depth), *_times(velocity, depth)))
    sums, count = _sum(gather, places_m, angle_rad, wide, t0, rms, moves_m[:, 0], line, False)
    real, imag, power, weight, weight2 = np.moveaxis(sums.astype(np.float64), 2, 0)
    most = np.maximum(weight**2 * power / np.maximum(weight2, 1e-30), 1e-30)
    return np.asarray(np.where(count >= least, (real**2 + imag**2) / most, 0.0))


def _times(velocity: VelocityModel, depth_m: Float64) -> tuple[Float64, Float64]:
    """Two-way times and RMS velocities, of the shape of the depths."""
    flat = depth_m.ravel()
    return velocity.two_way_ns(flat).reshape(depth_m.shape), velocity.rms_m_per_ns(flat).reshape(
        depth_m.shape
    )


def _sum(
    gather: Gather,
    places_m: Float64,
    angle_rad: Float64,
    wide_m: Float64,
    t0_ns: Float64,
    rms: Float64,
    aside_m: Float64,
    line: Int64,
    whole: bool,
) -> tuple[Float32, Int64]:
    """Give sums (place, state, 5) and counts of traces: see `_state_sums`."""
    with threads_for(t0_ns.size):
        sums, count = _state_sums(
            gather.data, gather.xy_m, gather.heading, gather.line, gather.bin_first, gather.bin_trace,
            gather.x_first_m, gather.y_first_m, gather.bins[0], gather.bins[1], gather.interval_ns,
            gather.separation_m, np.ascontiguousarray(places_m[:, 0]), np.ascontiguousarray(places_m[:, 1]),
            np.ascontiguousarray(angle_rad), wide_m, t0_ns, rms, np.ascontiguousarray(aside_m), line,
            HALF_ALONG_M, whole,
        )  # fmt: skip
    return sums, count


@nb.njit(parallel=True, cache=True, fastmath=True)
def _state_sums(  # type: ignore[no-untyped-def]
    data, xy, heading, line, bin_first, bin_trace, x_first, y_first, bins_y, bins_x, interval, separation,
    ex, ey, angle, half_across, t0, rms, aside, only, half_along, whole,
):  # fmt: skip
    """Real, imaginary, power, weight and squared weight at (place, state), and traces.

    `whole`: sums of the signal with its own modulus, and no power, squared weight or count.
    """
    count, states = t0.shape
    samples = data.shape[1]
    sums = np.zeros((count, states, 5), np.float32)
    traces = np.zeros((count, states), np.int64)
    reach_aside = np.abs(aside).max()
    f0, f1 = np.float32(0.0), np.float32(1.0)
    half_sample, last = np.float32(0.5), np.float32(samples - 0.5)
    off = aside.astype(np.float32)
    for n in nb.prange(count):
        cos, sin = math.cos(angle[n]), math.sin(angle[n])
        # What differs from place to place, side by side.
        deep2 = np.empty(states, np.float32)
        per_speed = np.empty(states, np.float32)
        narrow = np.empty(states, np.float32)
        widest = 0.0
        for s in range(states):
            deep = 0.5 * t0[n, s] * rms[n, s]
            deep2[s] = deep * deep
            per_speed[s] = 1.0 / (rms[n, s] * interval)
            narrow[s] = 1.0 / half_across[n, s] ** 2
            if int(t0[n, s] / interval + 0.5) >= samples:
                per_speed[s] = np.float32(1e9)  # below the record: no trace has any weight
            widest = max(widest, half_across[n, s])
        widest += reach_aside
        reach_x = abs(cos) * half_along + abs(sin) * widest
        reach_y = abs(sin) * half_along + abs(cos) * widest
        j0 = max(0, int((ex[n] - reach_x - x_first) / BIN_M))
        j1 = min(bins_x - 1, int((ex[n] + reach_x - x_first) / BIN_M))
        i0 = max(0, int((ey[n] - reach_y - y_first) / BIN_M))
        i1 = min(bins_y - 1, int((ey[n] + reach_y - y_first) / BIN_M))
        real = np.zeros(states, np.float32)
        imag = np.zeros(states, np.float32)
        weight = np.zeros(states, np.float32)
        weight2 = np.zeros(states, np.float32)
        power = np.zeros(states, np.float32)
        w = np.empty(states, np.float32)
        at = np.empty(states, np.int32)
        re = np.empty(states, np.float32)
        im = np.empty(states, np.float32)
        for i in range(i0, i1 + 1):
            for k in range(bin_first[i * bins_x + j0], bin_first[i * bins_x + max(j0, j1 + 1)]):
                m = bin_trace[k]
                if only[n] >= 0 and line[m] != only[n]:
                    continue
                dx, dy = xy[m, 0] - ex[n], xy[m, 1] - ey[n]
                along, across = dx * cos + dy * sin, dy * cos - dx * sin
                if abs(along) >= half_along or abs(across) >= widest:
                    continue
                taper = np.float32(1.0 - (along / half_along) ** 2)
                middle = np.float32(across)
                # Half the separation as seen across the pipe.
                half = np.float32(0.5 * separation * abs(math.sin(heading[m] - angle[n])))
                for s in range(states):
                    p = middle - off[s]
                    ahead, behind = p + half, p - half
                    t = (
                        math.sqrt(ahead * ahead + deep2[s]) + math.sqrt(behind * behind + deep2[s])
                    ) * per_speed[s]
                    part = max(f0, f1 - p * p * narrow[s]) * taper
                    w[s] = part if t < last else f0
                    at[s] = np.int32(min(t, last - half_sample) + half_sample)
                row = data[m]
                for s in range(states):
                    if w[s] > f0:
                        value = row[at[s]]
                        re[s], im[s] = value.real, value.imag
                    else:
                        re[s], im[s] = f0, f0
                if whole:
                    for s in range(states):
                        loud = w[s] * math.sqrt(re[s] * re[s] + im[s] * im[s])
                        real[s] += loud * re[s]
                        imag[s] += loud * im[s]
                        weight[s] += w[s]
                else:
                    for s in range(states):
                        real[s] += w[s] * re[s]
                        imag[s] += w[s] * im[s]
                        weight[s] += w[s]
                        weight2[s] += w[s] * w[s]
                        power[s] += w[s] * w[s] * (re[s] * re[s] + im[s] * im[s])
                        traces[n, s] += 1 if w[s] > f0 else 0
        sums[n, :, 0], sums[n, :, 1], sums[n, :, 2] = real, imag, power
        sums[n, :, 3], sums[n, :, 4] = weight, weight2
    return sums, traces
