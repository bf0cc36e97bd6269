"""Sums in phase at many places about the vertices of one path: the traces near a vertex are gone through once.

Beside a vertex the same traces answer for every place that is tried; only their curves differ. Trace by trace the
samples wanted lie close together in memory, and times and weights of all places are worked out side by side.
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from gridmap.features.stack import BIN_M, HALF_ALONG_M, Gather, half_across_m
from gridmap.model import Float32, Float64, Int64, VelocityModel
from gridmap.threads import in_parts


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


def quality_without(
    gather: Gather, velocity: VelocityModel, places_m: Float64, angle_rad: Float64, line: Int64
) -> Float64:
    """Quality of the sum along a pipe's curve over all traces but those of one line at each place, (place,).

    Parameters
    ----------
    gather, velocity, places_m, angle_rad
        As `amplitude_of_states`.
    line : (place,) int64
        The line left out.

    Returns
    -------
    (place,) float64
        As `gridmap.features.stack.StackSums.quality`; 0 where no other line is near.
    """
    depth = np.maximum(places_m[:, 2:], 0.02)
    t0, rms = _times(velocity, depth)
    sums, count = _sum(
        gather, places_m, angle_rad, half_across_m(depth), t0, rms, np.zeros(1), -2 - line, False
    )
    value = np.hypot(sums[:, 0, 0], sums[:, 0, 1]) / np.sqrt(np.maximum(sums[:, 0, 2], 1e-30))
    return np.asarray(np.where(count[:, 0] > 0, value, 0.0), dtype=np.float64)


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
    sums, count = np.empty((*t0_ns.shape, 5), np.float32), np.zeros(t0_ns.shape, np.int64)
    x, y, angle, aside_m = (
        np.ascontiguousarray(c) for c in (places_m[:, 0], places_m[:, 1], angle_rad, aside_m)
    )
    in_parts(
        lambda first, last: _state_sums(
            gather.data, gather.x_m, gather.y_m, gather.way, gather.line, gather.bin_first, gather.x_first_m,
            gather.y_first_m, gather.bins[0], gather.bins[1], gather.interval_ns, gather.separation_m,
            x, y, angle, wide_m, t0_ns, rms, aside_m, line, HALF_ALONG_M, whole, sums, count, first, last,
        ),
        len(x), 4,
    )  # fmt: skip
    return sums, count


@nb.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _state_sums(  # type: ignore[no-untyped-def]
    data, x, y, way, line, bin_first, x_first, y_first, bins_y, bins_x, interval, separation,
    ex, ey, angle, half_across, t0, rms, aside, only, half_along, whole, sums, traces, first, end,
):  # fmt: skip
    """Real, imaginary, power, weight and squared weight at (place, state), and traces.

    `only`: the one line asked; -1: all; -2 - k: all but line k. `whole`: sums of the signal with its own modulus, and
    no power, squared weight or count.
    """
    states = t0.shape[1]
    samples = data.shape[1]
    reach_aside = 0.0
    off = np.empty(states, np.float32)
    for s in range(states):
        reach_aside = max(reach_aside, abs(aside[s]))
        off[s] = aside[s]
    f0, f1 = np.float32(0.0), np.float32(1.0)
    half_sample, last = np.float32(0.5), np.float32(samples - 0.5)
    room = np.empty((11, states), np.float32)
    deep2, per_speed, narrow, w, re, im = room[0], room[1], room[2], room[3], room[4], room[5]
    real, imag, weight, weight2, power = room[6], room[7], room[8], room[9], room[10]
    at = np.empty(states, np.int32)
    for n in range(first, end):
        cos, sin = math.cos(angle[n]), math.sin(angle[n])
        # What differs from place to place, side by side.
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
        for s in range(states):
            real[s] = imag[s] = weight[s] = weight2[s] = power[s] = f0
        for i in range(i0, i1 + 1):
            for m in range(bin_first[i * bins_x + j0], bin_first[i * bins_x + max(j0, j1 + 1)]):
                if (only[n] >= 0 and line[m] != only[n]) or line[m] == -2 - only[n]:
                    continue
                dx, dy = x[m] - ex[n], y[m] - ey[n]
                along, across = dx * cos + dy * sin, dy * cos - dx * sin
                if abs(along) >= half_along or abs(across) >= widest:
                    continue
                taper = np.float32(1.0 - (along / half_along) ** 2)
                middle = np.float32(across)
                # Half the separation as seen across the pipe.
                half = np.float32(0.5 * separation * abs(way[1, m] * cos - way[0, m] * sin))
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
        for s in range(states):
            sums[n, s, 0], sums[n, s, 1], sums[n, s, 2] = real[s], imag[s], power[s]
            sums[n, s, 3], sums[n, s, 4] = weight[s], weight2[s]
