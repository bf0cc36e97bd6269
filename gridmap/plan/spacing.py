"""How far apart lines, traces and samples may be, in steps that a tape and a recorder have."""

from __future__ import annotations

import math

from gridmap.plan.formulas import sample_interval_ns, trace_spacing_m, window_ns
from gridmap.plan.ground import Span
from gridmap.plan.request import Sought

LINE_STEPS_M = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0)
TRACE_STEPS_M = (0.0005, 0.001, 0.002, 0.005, 0.01, 0.02, 0.025, 0.04, 0.05, 0.1)
WINDOW_STEP_NS = 5.0
LEAST_SAMPLES = 128
LINE_LIMIT_M = 0.25
BODY_LIMIT_M = 0.5
LAYER_LIMIT_M = 1.0


def line_limit_m(sought: Sought) -> tuple[float, str, str]:
    """Widest spacing of lines that leaves no doubt, with its formula and source.

    Returns
    -------
    limit_m : float
        Metres. It does not grow with depth, though the ground lit does.
    formula, source : str
        For the sheet.
    """
    if sought.shape == "line":
        return LINE_LIMIT_M, "0.25 m: the finer of the two spacings tested", "University of Denver test site"
    if sought.shape == "body":
        return (
            min(BODY_LIMIT_M, sought.size_m / 2),
            "shorter side / 2, so that two lines cross it, and 0.5 m at most",
            "common practice; University of Denver test site",
        )
    return LAYER_LIMIT_M, "1 m: a layer has no sides to miss", "common practice"


def handy(limit: float, steps: tuple[float, ...]) -> float:
    """Return the largest step within a limit; the smallest where none is."""
    return max((s for s in steps if s <= limit * (1 + 1e-9)), default=steps[0])


def proposed_line_spacing_m(sought: Sought) -> float:
    """Spacing of lines, a step of the tape, metres."""
    return handy(line_limit_m(sought)[0], LINE_STEPS_M)


def proposed_trace_interval_m(velocity: Span, frequency_mhz: float) -> float:
    """Spacing of traces, metres: within a quarter of the shortest likely wavelength (slowest ground)."""
    return handy(trace_spacing_m(velocity.low, frequency_mhz), TRACE_STEPS_M)


def proposed_window_ns(velocity: Span, depth_m: float) -> float:
    """Record length, nanoseconds: 1.3 * 2 d / v, or 2 d / v in the slowest ground where that is longer; whole 5 ns."""
    longest = max(window_ns(velocity.likely, depth_m), 2 * depth_m / velocity.low)
    return WINDOW_STEP_NS * math.ceil(longest / WINDOW_STEP_NS - 1e-9)


def proposed_samples(window: float, frequency_mhz: float) -> int:
    """Count the samples of a trace: the least power of two, 128 at least, that gives six samples a period."""
    count = LEAST_SAMPLES
    while window / count > sample_interval_ns(frequency_mhz):
        count *= 2
    return count
