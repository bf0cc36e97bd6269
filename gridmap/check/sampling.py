"""Trace interval, sample interval and length of the record against the antenna and the wanted depth."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.setup import Setup
from gridmap.check.stretch import whole_line
from gridmap.model import Float64

_MARGIN = 1.3
"""A record of 1.3 times the time of the depth holds the limbs too (survey-design notes after Annan [memory])."""


def find_interval(line: str, along_m: Float64, setup: Setup) -> list[Finding]:
    """Judge the trace interval against spatial Nyquist: v / (4 f) (Grasmueck et al. 2005 [memory]).

    Past a quarter of a wavelength the steepest limbs alias; past half a wavelength all limbs of 30 degrees do, and no
    migration brings them home. Only where the places of the traces are known.
    """
    if not setup.placed or len(along_m) < 3:
        return []
    step = float(np.median(np.diff(along_m)))
    limit = 0.25 * setup.wavelength_m
    if step <= limit * 1.02:
        return []
    wide = step > 2 * limit
    return [
        whole_line(
            line,
            "interval",
            "walk again" if wide else "attention",
            (Figure("trace interval", step, "m"), Figure("a quarter of a wavelength", limit, "m")),
            f"a trace every {100 * step:.1f} cm; at {setup.frequency_mhz:g} MHz and {setup.velocity_m_per_ns:g} m/ns "
            f"{100 * limit:.1f} cm are needed"
            + (": echoes cannot be brought to their place" if wide else ": steep limbs are lost"),
            f"Set the wheel to {100 * limit:.1f} cm or less" + (" and walk the line again." if wide else "."),
        )
    ]


def find_window(
    line: str, samples: int, sample_interval_ns: float, zero_ns: float, setup: Setup
) -> list[Finding]:
    """Judge the record: is time zero in it, is it sampled finely, does it reach the wanted depth.

    Parameters
    ----------
    line : str
        Name of the line.
    samples : int
        Samples a trace.
    sample_interval_ns : float
        Nanoseconds.
    zero_ns : float
        Time zero after the first sample, nanoseconds.
    setup : Setup
        Velocity, frequency, depth.
    """
    found = []
    record = (samples - 1) * sample_interval_ns - zero_ns
    reaches = 0.5 * setup.velocity_m_per_ns * record
    if setup.depth_m is not None and reaches < _MARGIN * setup.depth_m:
        short = reaches < setup.depth_m
        need = 2 * _MARGIN * setup.depth_m / setup.velocity_m_per_ns
        found.append(
            whole_line(
                line,
                "window",
                "walk again" if short else "attention",
                (
                    Figure("record after time zero", record, "ns"),
                    Figure("reaches", reaches, "m"),
                    Figure("needed", need, "ns"),
                ),
                f"the record ends at {reaches:.2f} m ({record:.0f} ns after time zero), "
                + ("above" if short else "close below")
                + f" the {setup.depth_m:g} m that are wanted",
                f"Set {need:.0f} ns after time zero"
                + (" and walk the line again." if short else " for the next lines."),
            )
        )
    per_period = setup.period_ns / sample_interval_ns
    if per_period < 4:
        found.append(
            whole_line(
                line,
                "window",
                "walk again" if per_period < 2.5 else "attention",
                (Figure("samples a period", per_period, ""),),
                f"only {per_period:.1f} samples a period of {setup.frequency_mhz:g} MHz; six are usual",
                f"Set a sample interval of {setup.period_ns / 6:.2g} ns or less.",
            )
        )
    if zero_ns < -0.25 * setup.period_ns:
        found.append(
            whole_line(
                line,
                "time zero",
                "attention",
                (Figure("time zero", zero_ns, "ns"),),
                "the record begins within the direct wave: time zero cannot be picked well",
                "Move the start of the record some nanoseconds earlier.",
            )
        )
    return found
