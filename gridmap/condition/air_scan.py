"""Diffraction stacks over the plan at one speed: how well all traces agree with a post or a wall there."""

from __future__ import annotations

import numba
import numpy as np

from gridmap.model import Float32, Float64
from gridmap.threads import in_parts


def stack_posts(
    re: Float32, im: Float32, xy: Float64, gx: Float64, gy: Float64, per_m: float, half2: float, first: float
) -> Float32:
    """Sum the phasors along the time of a post at each place of a grid.

    Parameters
    ----------
    re, im : (trace, sample) float32
        Phasors, at most 1 long.
    xy : (trace, 2) float64
        Antenna mid-points, metres.
    gx, gy : (column,), (row,) float64
        Places, metres.
    per_m : float
        Samples a metre of distance: 2 over speed and sample interval.
    half2 : float
        Square of half the antennas' separation, metres squared.
    first : float
        Earlier samples are not used.

    Returns
    -------
    (row, column) float32
        Length of the sum over the square root of the number of traces; 0 where less than a tenth of them reach.
    """
    out = np.zeros((gy.size, gx.size), np.float32)
    in_parts(lambda a, b: _posts(re, im, xy, gx, gy, per_m, half2, first, out, a, b), len(out))
    return out


@numba.njit(cache=True, nogil=True, fastmath=True)
def _posts(re, im, xy, gx, gy, per_m, half2, first, out, begin, end):  # type: ignore[no-untyped-def]
    traces, samples = re.shape
    for j in range(begin, end):
        for i in range(gx.size):
            sum_re, sum_im, count = 0.0, 0.0, 0
            for t in range(traces):
                dx = gx[i] - xy[t, 0]
                dy = gy[j] - xy[t, 1]
                at = per_m * np.sqrt(dx * dx + dy * dy + half2)
                a = int(at)
                if at < first or a >= samples - 1:
                    continue
                w = at - a
                sum_re += re[t, a] * (1 - w) + re[t, a + 1] * w
                sum_im += im[t, a] * (1 - w) + im[t, a + 1] * w
                count += 1
            if count * 10 >= traces:
                out[j, i] = np.sqrt((sum_re * sum_re + sum_im * sum_im) / count)


def stack_walls(
    re: Float32,
    im: Float32,
    xy: Float64,
    normal: Float64,
    beyond: Float64,
    per_m: float,
    half2: float,
    first: float,
) -> Float32:
    """Sum the phasors along the time of a wall in each direction, at each distance beyond the survey's edge.

    Parameters
    ----------
    re, im, xy, per_m, half2, first
        As for `stack_posts`.
    normal : (direction, 2) float64
        Unit vectors towards the wall.
    beyond : (step,) float64
        Distance of the wall beyond the farthest trace in that direction, metres.

    Returns
    -------
    (direction, step) float32
        As for `stack_posts`.
    """
    out = np.zeros((len(normal), beyond.size), np.float32)
    in_parts(lambda a, b: _walls(re, im, xy, normal, beyond, per_m, half2, first, out, a, b), len(out))
    return out


@numba.njit(cache=True, nogil=True, fastmath=True)
def _walls(re, im, xy, normal, beyond, per_m, half2, first, out, begin, end):  # type: ignore[no-untyped-def]
    traces, samples = re.shape
    ahead = np.empty(traces)
    for j in range(begin, end):
        edge = -np.inf
        for t in range(traces):
            ahead[t] = xy[t, 0] * normal[j, 0] + xy[t, 1] * normal[j, 1]
            edge = max(edge, ahead[t])
        for i in range(beyond.size):
            sum_re, sum_im, count = 0.0, 0.0, 0
            for t in range(traces):
                d = edge + beyond[i] - ahead[t]
                at = per_m * np.sqrt(d * d + half2)
                a = int(at)
                if at < first or a >= samples - 1:
                    continue
                w = at - a
                sum_re += re[t, a] * (1 - w) + re[t, a + 1] * w
                sum_im += im[t, a] * (1 - w) + im[t, a + 1] * w
                count += 1
            if count * 10 >= traces:
                out[j, i] = np.sqrt((sum_re * sum_re + sum_im * sum_im) / count)
