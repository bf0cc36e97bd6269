"""Sums in phase at many places about the vertices of one path: the traces near a vertex are gone through once.

Beside a vertex the same traces answer for every place that is tried; only their curves differ. Trace by trace the
samples wanted lie close together in memory, and times and weights of all places are worked out side by side.
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from gridmap.features.stack import BIN_M, HALF_ALONG_M, Gather, half_across_m
from gridmap.model import Float64, VelocityModel


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
    depth = np.maximum(nodes_m[:, 2:] + below_m, 0.02)
    flat = depth.ravel()
    t0 = velocity.two_way_ns(flat).reshape(depth.shape)
    rms = velocity.rms_m_per_ns(flat).reshape(depth.shape)
    out = _amplitudes(
        gather.data, gather.xy_m, gather.heading, gather.bin_first, gather.bin_trace,
        gather.x_first_m, gather.y_first_m, gather.bins[0], gather.bins[1], gather.interval_ns,
        gather.separation_m, np.ascontiguousarray(nodes_m[:, 0]), np.ascontiguousarray(nodes_m[:, 1]),
        np.ascontiguousarray(angle_rad), half_across_m(depth), t0, rms, np.asarray(aside_m, np.float64),
        HALF_ALONG_M,
    )  # fmt: skip
    return np.asarray(out, dtype=np.float64)


@nb.njit(parallel=True, cache=True, fastmath=True)
def _amplitudes(  # type: ignore[no-untyped-def]
    data, xy, heading, bin_first, bin_trace, x_first, y_first, bins_y, bins_x, interval, separation,
    ex, ey, angle, half_across, t0, rms, aside, half_along,
):  # fmt: skip
    count, levels = t0.shape
    sides = len(aside)
    states = sides * levels
    samples = data.shape[1]
    out = np.zeros((count, sides, levels), np.float32)
    reach_aside = np.abs(aside).max()
    f0, f1 = np.float32(0.0), np.float32(1.0)
    half_sample, last = np.float32(0.5), np.float32(samples - 0.5)
    for n in nb.prange(count):
        cos, sin = math.cos(angle[n]), math.sin(angle[n])
        # What differs from place to place, side by side.
        off = np.empty(states, np.float32)
        deep2 = np.empty(states, np.float32)
        per_speed = np.empty(states, np.float32)
        narrow = np.empty(states, np.float32)
        alive = np.empty(states, np.float32)
        widest = 0.0
        for a in range(sides):
            for k in range(levels):
                s = a * levels + k
                off[s] = aside[a]
                deep = 0.5 * t0[n, k] * rms[n, k]
                deep2[s] = deep * deep
                per_speed[s] = 1.0 / (rms[n, k] * interval)
                narrow[s] = 1.0 / half_across[n, k] ** 2
                alive[s] = 1.0 if int(t0[n, k] / interval + 0.5) < samples else 0.0
                widest = max(widest, half_across[n, k])
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
        w = np.empty(states, np.float32)
        at = np.empty(states, np.int32)
        re = np.empty(states, np.float32)
        im = np.empty(states, np.float32)
        for i in range(i0, i1 + 1):
            if j1 < j0:
                break
            for k in range(bin_first[i * bins_x + j0], bin_first[i * bins_x + j1 + 1]):
                m = bin_trace[k]
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
                    part = max(f0, f1 - p * p * narrow[s]) * taper * alive[s]
                    w[s] = part if t < last else f0
                    at[s] = np.int32(min(t, last - half_sample) + half_sample)
                row = data[m]
                for s in range(states):
                    if w[s] > f0:
                        value = row[at[s]]
                        re[s], im[s] = value.real, value.imag
                    else:
                        re[s], im[s] = f0, f0
                for s in range(states):
                    loud = w[s] * math.sqrt(re[s] * re[s] + im[s] * im[s])
                    real[s] += loud * re[s]
                    imag[s] += loud * im[s]
                    weight[s] += w[s]
        for a in range(sides):
            for k in range(levels):
                s = a * levels + k
                if weight[s] > f0:
                    out[n, a, k] = math.sqrt(real[s] * real[s] + imag[s] * imag[s]) / weight[s]
    return out
