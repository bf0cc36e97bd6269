"""Local grid to map, and one SEG-Y file a line."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.simulate.walk import Walk
from gridmap.read.segy_write import write_segy


@dataclass(frozen=True, slots=True)
class Frame:
    """The local grid in the map: E = E0 + x cos r - y sin r, N = N0 + x sin r + y cos r."""

    easting_m: float
    northing_m: float
    rotation_deg: float

    def to_map(self, x: float, y: float) -> tuple[float, float]:
        """Easting and northing of a local point, rounded to millimetres."""
        r = math.radians(self.rotation_deg)
        return (
            round(self.easting_m + x * math.cos(r) - y * math.sin(r), 3),
            round(self.northing_m + x * math.sin(r) + y * math.cos(r), 3),
        )

    def all_to_map(self, points: Iterable[Iterable[float]]) -> list[list[float]]:
        """Map co-ordinates of points (x, y, ...); what follows y is kept."""
        return [[*self.to_map(x, y), *rest] for x, y, *rest in points]


def write_line(
    path: Path,
    traces: np.ndarray,
    *,
    interval_ps: int,
    sample_format: int,
    walk: Walk,
    text: tuple[str, ...] = (),
) -> None:
    """Write one line as SEG-Y with trigger numbers and clock times in the trace headers."""
    write_segy(
        path,
        traces.astype(np.float32),
        sample_interval_ps=interval_ps,
        sample_format=sample_format,
        trace_number=walk.trigger,
        time_s=walk.time_s,
        text=text,
    )
