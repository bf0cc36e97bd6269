"""Take an echo through the air off the traces, before imaging makes it something underground."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.condition.air_echo import AirEcho
from gridmap.model import CleanLine, Float32, Float64, Int64

HALF_WIDTH_PERIODS = 1.5
"""How far before and after its time an echo is taken off: about the length of a band-limited pulse."""
SMOOTH_M = 1.0
"""Along a line the echo's size is fitted over this length: the antenna sees the object at a slowly turning angle."""
LARGEST_SCALE = 3.0
"""An echo is never taken to be more than this many times its usual size at that distance."""
FEWEST = 8
"""Traces from which the usual pulse at a distance is told."""


def mute_air_echo(
    lines: Sequence[CleanLine], interval_ns: float, separation_m: float, period_ns: float, echo: AirEcho
) -> None:
    """Subtract the pulse of one echo from all lines, in place.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned lines on one time axis; their arrays are changed.
    interval_ns, separation_m, period_ns : float
        As for `gridmap.condition.air_echo.find_air_echoes`.
    echo : AirEcho
        What to take off.

    Notes
    -----
    Aligned at the echo's time, what lies buried crosses from trace to trace while the echo stays. Its pulse is the
    median over all traces of the survey at about the same distance, so that no single reflector is in it; each
    stretch of a line takes off as much of that pulse as it shows (least squares over `SMOOTH_M`). This is background
    removal along a curve; it takes a flat reflector along only where the curve is flat too and over no more than
    the pulse's length.
    """
    half = max(2, round(HALF_WIDTH_PERIODS * period_ns / interval_ns))
    taper = np.sqrt(np.cos(0.5 * np.pi * np.linspace(-1, 1, 2 * half + 3)[1:-1])).astype(np.float32)
    cuts = [_aligned(line, interval_ns, separation_m, echo, half, 2.0 * period_ns) for line in lines]
    ring = [np.rint(cut[2] / (0.5 * SMOOTH_M)).astype(int) for cut in cuts]
    pulse = _usual_pulses(np.concatenate([c[1] for c in cuts]), np.concatenate(ring))
    for line, (trace, cut, _, at), mine in zip(lines, cuts, ring, strict=True):
        if not len(trace):
            continue
        usual = pulse[mine] * taper
        scale = _local_scale(cut, usual, line.along_m[trace])
        _add_at(line.traces, trace, at, -scale[:, None] * usual, half)


def _aligned(
    line: CleanLine, interval_ns: float, separation_m: float, echo: AirEcho, half: int, first_ns: float
) -> tuple[Int64, Float32, Float64, Float64]:
    """Cut the windows around the echo's time: trace, (trace, window) float32, distance, sample of the centre."""
    at = echo.two_way_ns(line.xy_m, separation_m) / interval_ns
    samples = line.traces.shape[1]
    trace = np.flatnonzero(line.usable & (at >= first_ns / interval_ns + half) & (at < samples - half - 2))
    at = at[trace]
    return trace, _sampled(line.traces[trace], at, half), echo.distance_m(line.xy_m[trace]), at


def _sampled(traces: Float32, at: Float64, half: int) -> Float32:
    """Linear interpolation at `at` - half ... `at` + half samples, (trace, 2 half + 1)."""
    whole = np.floor(at).astype(int)
    share = (at - whole).astype(np.float32)[:, None]
    column = whole[:, None] + np.arange(-half, half + 1)
    row = np.arange(len(traces))[:, None]
    return np.asarray(traces[row, column] * (1 - share) + traces[row, column + 1] * share, np.float32)


def _usual_pulses(windows: Float32, ring: Int64) -> Float32:
    """Median pulse in each ring of distance; zero where too few traces tell."""
    pulses = np.zeros((int(ring.max()) + 1 if len(ring) else 1, windows.shape[1]), np.float32)
    for k in np.unique(ring):
        near = windows[np.abs(ring - k) <= 1]
        if len(near) >= FEWEST:
            pulses[k] = np.median(near, axis=0)
    return pulses


def _local_scale(windows: Float32, usual: Float32, along_m: Float64) -> Float32:
    """How much of the usual pulse each trace shows, fitted over `SMOOTH_M` along the line, never below zero."""
    top = np.concatenate([[0.0], np.cumsum((windows * usual).sum(axis=1, dtype=float))])
    base = np.concatenate([[0.0], np.cumsum((usual * usual).sum(axis=1, dtype=float))])
    a = np.searchsorted(along_m, along_m - 0.5 * SMOOTH_M)
    b = np.searchsorted(along_m, along_m + 0.5 * SMOOTH_M, side="right")
    scale = (top[b] - top[a]) / np.maximum(base[b] - base[a], 1e-30)
    return np.asarray(np.clip(scale, 0.0, LARGEST_SCALE), np.float32)


def _add_at(traces: Float32, trace: Int64, at: Float64, windows: Float32, half: int) -> None:
    """Add windows back at the fractional samples they were cut from."""
    whole = np.floor(at).astype(int)
    share = (at - whole).astype(np.float32)[:, None]
    column = whole[:, None] + np.arange(-half, half + 1)
    row = trace[:, None]
    np.add.at(traces, (row, column), windows * (1 - share))
    np.add.at(traces, (row, column + 1), windows * share)
