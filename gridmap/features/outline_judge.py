"""Whether a measured body may be an outline: reasons against it, and how sure it is."""

from __future__ import annotations

import math

import numpy as np

from gridmap.features.outline_fit import Shape
from gridmap.features.outline_measure import Body, Survey
from gridmap.model import LIGHT_M_PER_NS, Float64

LEAST_M = 0.35
LEAST_WAVES = 1.2
"""Narrower bodies than both, metres and wavelengths, show no outline: they are lines or points."""
LONGEST = 12.0
"""Longer than this many widths is a line."""
LONG = 4.0
STRIP_WAVES = 1.6
"""Longer than `LONG` widths and narrower than this many wavelengths is a line, blurred by the resolution."""
WIDEST_SHARE = 0.3
"""What fills more of the survey than this is a layer boundary."""
FAINT = 2.8
"""Fewer times the usual level than this are not told from the texture of the ground."""
LEAST_KNOWN = 0.6
"""Share of a shape that the survey must reach."""
THROUGH = 1.8
"""Longer than this many widths, and cut by the survey's edge at both ends, is a line."""
EDGE_M = 0.15
"""An end nearer to the edge of the survey is cut by it, metres."""
STEEP = 0.22
"""Slope beyond which a top is not flat; the echo of a thing above ground seems to dip by v / c, 0.2 to 0.5."""


def least_m(wavelength_m: float) -> float:
    """Least width of an outline, metres."""
    return max(LEAST_M, LEAST_WAVES * wavelength_m)


def shape_is_none(shape: Shape, survey: Survey) -> str | None:
    """Say why a shape alone is no outline; None where it may be one."""
    if shape.width_m < least_m(survey.wavelength_m) or shape.length_m > LONGEST * shape.width_m:
        return "too narrow for an outline: a line or a point"
    if shape.length_m > LONG * shape.width_m and shape.width_m < STRIP_WAVES * survey.wavelength_m:
        return "long, and no wider than a line is blurred"
    if (
        shape.length_m * shape.width_m
        > WIDEST_SHARE * survey.slabs.known.sum() * survey.volume.grid.cell_m**2
    ):
        return "fills too much of the survey: a layer boundary"
    if shape.amplitude < FAINT:
        return "too faint to tell from the texture of the ground"
    return None


def _runs_through(shape: Shape, survey: Survey) -> bool:
    """Say whether both ends of a shape lie at the edge of what the survey reaches, or beyond."""
    grid, known, turn = survey.volume.grid, survey.slabs.known, math.radians(shape.bearing_deg)
    for sign in (-1, 1):
        away = sign * (shape.length_m / 2 + EDGE_M)
        x, y = shape.x_m + away * math.cos(turn), shape.y_m + away * math.sin(turn)
        row, column = round((y - grid.y_first_m) / grid.cell_m), round((x - grid.x_first_m) / grid.cell_m)
        if 0 <= row < grid.rows and 0 <= column < grid.columns and known[row, column]:
            return False
    return True


def why_not(body: Body, survey: Survey) -> str | None:
    """Say why a body of a fair shape is no outline; None where it may be one."""
    if body.known < LEAST_KNOWN:
        return "mostly beyond the edge of the survey"
    if body.shape.length_m > THROUGH * body.shape.width_m and _runs_through(body.shape, survey):
        return "runs from edge to edge of the survey: a line"
    if body.crossed.count < 2:
        return "seen on a single line: a stripe, or too small to tell"
    if body.slope > STEEP:
        air = survey.velocity.mean_m_per_ns() / LIGHT_M_PER_NS
        like = abs(body.slope - air) < 0.3 * air
        return "dips as the echo of a thing above ground does" if like else "its top is not flat"
    return None


def evidence(body: Body, survey: Survey) -> Float64:
    """Measures that the confidence rests on.

    Parameters
    ----------
    body : Body
        Measured.
    survey : Survey
        What it was measured in.

    Returns
    -------
    (8,) float64
        Logarithms of: amplitude over the ground around, width and root of area in wavelengths (held at 3 and 4: no
        body is surer for being vast); agreement of the lines; share that the survey reaches; misfit of the shape;
        logarithm of the count of lines (held at 5); depth in wavelengths.
    """
    shape, crossed, wave = body.shape, body.crossed, survey.wavelength_m
    side_m = math.sqrt(shape.length_m * shape.width_m)
    return np.array(
        [
            math.log(max(shape.amplitude / max(shape.ground, 0.8), 1.0)),
            math.log(min(shape.width_m / wave, 3.0)),
            math.log(min(side_m / wave, 4.0)),
            crossed.agreement,
            min(body.known, 1.0),
            shape.misfit,
            math.log(min(max(crossed.count, 1), 5)),
            body.depth_m / wave,
        ]
    )


NAMES = ("contrast", "width", "side", "agreement", "known", "misfit", "lines", "depth")
WEIGHTS = (3.54, 6.85, 2.72, 3.73, 13.2, -7.78, 0.47, -0.36)
OFFSET = -31.03
"""Logistic regression of what is real on `evidence`, over 441 candidates (79 real) of 76 simulated surveys, 15 of them
empty, by `python -m benchmarks.outline_calibration`. The shared surveys had no part in the weights, but the kinds of
evidence and the least confidence listed were chosen with them in sight. How often what is called so was so on surveys
that a fit had not seen is told in docs/features.md."""


def confidence(body: Body, survey: Survey) -> float:
    """Share of such bodies that are real, 0 to 1, on simulated ground (see `WEIGHTS`)."""
    score = float(evidence(body, survey) @ np.array(WEIGHTS)) + OFFSET
    return 1.0 / (1.0 + math.exp(-max(score, -50.0)))
