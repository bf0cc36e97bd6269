"""Whether a measured body may be an outline: reasons against it, and how sure it is."""

from __future__ import annotations

import math

from gridmap.features.outline_measure import Body, Survey
from gridmap.model import LIGHT_M_PER_NS

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
LEAST_KNOWN = 0.6
"""Share of a shape that the survey must reach."""
STEEP = 0.22
"""Slope beyond which a top is not flat; the echo of a thing above ground seems to dip by v / c, 0.2 to 0.5."""


def least_m(wavelength_m: float) -> float:
    """Least width of an outline, metres."""
    return max(LEAST_M, LEAST_WAVES * wavelength_m)


def why_not(body: Body, survey: Survey) -> str | None:
    """Say why a body is no outline; None where it may be one."""
    shape = body.shape
    area = shape.length_m * shape.width_m
    if shape.width_m < least_m(survey.wavelength_m) or shape.length_m > LONGEST * shape.width_m:
        return "too narrow for an outline: a line or a point"
    if shape.length_m > LONG * shape.width_m and shape.width_m < STRIP_WAVES * survey.wavelength_m:
        return "long, and no wider than a line is blurred"
    if area > WIDEST_SHARE * survey.slabs.known.sum() * survey.volume.grid.cell_m**2:
        return "fills too much of the survey: a layer boundary"
    if body.known < LEAST_KNOWN:
        return "mostly beyond the edge of the survey"
    if body.crossed.count < 2:
        return "seen on a single line: a stripe, or too small to tell"
    if body.slope > STEEP:
        air = survey.velocity.mean_m_per_ns() / LIGHT_M_PER_NS
        like = abs(body.slope - air) < 0.3 * air
        return "dips as the echo of a thing above ground does" if like else "its top is not flat"
    return None


def confidence(body: Body, survey: Survey) -> float:
    """Share of such bodies that are real (logistic regression; weights provisional until the calibration)."""
    shape, crossed = body.shape, body.crossed
    score = (
        2.0 * math.log(max(shape.amplitude / max(shape.ground, 0.5), 1.0))
        + 3.0 * (crossed.agreement - 0.6)
        - 8.0 * shape.misfit
        - 10.0 * body.flat_m / survey.wavelength_m
        - 1.5
    )
    return 1.0 / (1.0 + math.exp(-score))
