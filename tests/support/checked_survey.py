"""A verdict on an invented survey with a fault of each severity, and the radargrams of its lines."""

import numpy as np

from gridmap.check.finding import CheckedLine, Finding, Verdict, worst, worst_first
from gridmap.deliver.check_page import CheckPage
from gridmap.deliver.check_radargram import pack_radargram

NAN = float("nan")
LINES, TRACES, SAMPLES, LENGTH_M, STEP_NS, ZERO_NS = 9, 81, 120, 4.0, 0.4, 4.0
SPIKE = (60, 50)
"""Trace and sample, from 0, where line Y02 holds the strongest amplitude."""


def findings(prefix="Y", text=""):
    """Two to walk again, two to look at, one note."""
    return [
        Finding(f"{prefix}02", "lifted", "walk again", 2.13, 3.42, 43, 69, (), f"antenna off the ground{text}",
                f"Walk this stretch again.{text}"),
        Finding(f"{prefix}05", "dead", "walk again", NAN, NAN, None, None, (), "every trace is empty", "Check cables."),
        Finding(f"{prefix}07", "bump", "attention", 1.0, 1.2, 21, 25, (), "burst over 4 traces"),
        Finding("", "spacing", "attention", NAN, NAN, None, None, (), f"lines are far apart{text}"),
        Finding(f"{prefix}01", "level", "note", NAN, NAN, None, None, (), "a little louder"),
    ]  # fmt: skip


def made_page(prefix="Y", site="Weir meadow", text="", found=None):
    """Nine parallel lines, walked up and down."""
    found = findings(prefix, text) if found is None else found
    along = np.linspace(0.0, LENGTH_M, TRACES)
    lines, radargrams = [], {}
    for k in range(LINES):
        name = f"{prefix}{k + 1:02d}"
        y = along if k % 2 == 0 else LENGTH_M - along
        xy = np.column_stack([np.full(TRACES, 0.5 * k), y])
        lines.append(
            CheckedLine(name, f"{name}.sgy", xy, along, True, worst(f for f in found if f.line == name))
        )
        traces = np.random.default_rng(k).standard_normal((TRACES, SAMPLES)).astype(np.float32)
        if k == 1:
            traces[SPIKE] = 40.0
        radargrams[name] = pack_radargram(name, traces, along, STEP_NS, zero_ns=ZERO_NS, period_ns=2.5)
    again = any(f.severity == "walk again" for f in found)
    verdict = Verdict(
        not again,
        worst_first(found, [line.name for line in lines]),
        tuple(lines),
        site,
        (f"lines 0.5 m apart{text}",),
    )
    return CheckPage(verdict, radargrams, 0.1)
