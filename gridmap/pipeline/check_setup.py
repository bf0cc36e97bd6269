"""What the lines of a survey are judged by, from its site file."""

from __future__ import annotations

import numpy as np

from gridmap.check.coverage import rows_of, usual_spacing_m
from gridmap.check.setup import USUAL_VELOCITY, Setup
from gridmap.site.records import Site
from gridmap.velocity.media import find_medium

MEASURED = ("track", "stations", "marks", "polyline")
"""Ways of placing that measure the path, rather than take it to be straight."""


def setup_of(site: Site, placed: bool, depth_m: float | None = None) -> Setup:
    """Gather what a site file, or what was made up for a bare folder, says of radar, ground and spacing."""
    ground = site.ground
    stated = ground.velocity_m_per_ns or (
        find_medium(ground.medium).velocity_m_per_ns if ground.medium else None
    )
    rows = (
        rows_of(
            [plan.name for plan in site.lines],
            [np.array([plan.start_m, plan.end_m], dtype=float) for plan in site.lines],
        )
        if placed
        else []
    )
    return Setup(
        site.antenna.frequency_mhz,
        site.antenna.separation_m,
        site.antenna.height_m,
        stated or USUAL_VELOCITY,
        stated is not None,
        depth_m if depth_m is not None else site.wanted_depth_m,
        placed,
        usual_spacing_m(rows) or 0.5,
    )
