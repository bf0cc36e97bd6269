"""Where each trace really was taken: wheel scale, late pegs, wobbling lines, missing triggers, the clock."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Habits:
    """How a survey was walked.

    Attributes
    ----------
    trace_m : float
        What the wheel is set to between traces, metres.
    wheel_error, wheel_error_sd : float
        True distance a trace = `trace_m` (1 + error): the survey's mean, and its scatter from line to line.
    late_m : float
        How far the antenna lies ahead of the mark that the walker holds to the pegs; lines walked in opposite
        directions are staggered by twice this.
    wobble_m : float
        r.m.s. distance from the tape, metres.
    dropped : float
        Share of triggers that were not recorded.
    pace_m_per_s : float
        Walking speed.
    """

    trace_m: float
    wheel_error: float = 0.0
    wheel_error_sd: float = 0.0
    late_m: float = 0.0
    wobble_m: float = 0.0
    dropped: float = 0.0
    pace_m_per_s: float = 0.7


@dataclass(frozen=True, slots=True)
class Walk:
    """One line as walked: pegs, true mid-points (trace, 2), trigger numbers from 1, seconds since 1970."""

    name: str
    start_m: tuple[float, float]
    end_m: tuple[float, float]
    mid_m: np.ndarray
    trigger: np.ndarray
    time_s: np.ndarray
    heading: np.ndarray
    wheel_error: float


def lay_lines(
    prefix: str, length_m: float, width_m: float, spacing_m: float, *, along: str = "y"
) -> list[tuple[str, tuple[float, float], tuple[float, float]]]:
    """Name, start and end peg of zig-zag lines along one axis, from the origin of the other."""
    lines = []
    for k in range(round(width_m / spacing_m) + 1):
        beside = round(k * spacing_m, 6)
        ends = [(beside, 0.0), (beside, length_m)] if along == "y" else [(0.0, beside), (length_m, beside)]
        if k % 2:
            ends.reverse()
        lines.append((f"{prefix}{k + 1:03d}", ends[0], ends[1]))
    return lines


def walk_line(
    rng: np.random.Generator,
    name: str,
    start_m: tuple[float, float],
    end_m: tuple[float, float],
    habits: Habits,
    clock_s: float,
) -> Walk:
    """Walk one line from peg to peg."""
    start, end = np.array(start_m), np.array(end_m)
    length = float(np.hypot(*(end - start)))
    heading = (end - start) / length
    error = habits.wheel_error + habits.wheel_error_sd * rng.normal()
    spacing = habits.trace_m * (1 + error)
    first, last = habits.late_m + rng.normal(0.0, 0.008, 2)
    count = int((length + last - first) / spacing) + 1
    u = first + spacing * np.arange(count) + rng.normal(0.0, 0.0015, count)
    # The path swings about the tape: two slow waves of random phase.
    swing = np.zeros(count)
    for wavelength in (2.5, 6.0):
        swing += (
            habits.wobble_m
            * rng.normal()
            / math.sqrt(2)
            * np.cos(2 * np.pi * u / wavelength + rng.uniform(0, 2 * np.pi))
        )
    across = np.array([-heading[1], heading[0]])
    mid = start + u[:, None] * heading + swing[:, None] * across
    keep = rng.random(count) >= habits.dropped
    keep[[0, -1]] = True
    time = clock_s + (u - first) / habits.pace_m_per_s
    return Walk(name, start_m, end_m, mid[keep], np.flatnonzero(keep) + 1, time[keep], heading, error)
