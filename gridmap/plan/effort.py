"""How far the crew walks, and how long it takes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from gridmap.plan.layout import PlannedLine
from gridmap.plan.request import Walk


@dataclass(frozen=True, slots=True)
class Effort:
    """Walking and hours.

    Attributes
    ----------
    line_m, between_m : float
        Metres along lines, and from the end of each to the start of the next.
    hours : float
        On the site: walking, turns, laying out and packing.
    """

    line_m: float
    between_m: float
    hours: float


def effort_of(lines: Sequence[PlannedLine], walk: Walk) -> Effort:
    """Add up distance and time: (along + between) / speed + turns + set-up (common practice)."""
    along = sum(line.length_m for line in lines)
    between = sum(math.dist(a.end_m, b.start_m) for a, b in pairwise(lines))
    seconds = (along + between) / walk.speed_m_per_s + len(lines) * walk.turn_s + 60 * walk.setup_min
    return Effort(along, between, seconds / 3600)
