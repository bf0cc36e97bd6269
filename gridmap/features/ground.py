"""What features are looked for in: the record that is handed to every finder and to what measures drawn shapes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gridmap.features.apex import pulse_sign_of
from gridmap.features.crests import usual_quality
from gridmap.features.crossings import Walked
from gridmap.features.stack import Gather, Room, in_memory
from gridmap.model import CleanLine, Float64, VelocityModel, Volume
from gridmap.velocity.peak_shift import PeakShift

ABOUT_M, ABOUT_SHARE = 0.25, 0.3
"""Where a depth is known of a shape, the echo is looked for within the larger of these: metres, share of it."""


@dataclass(frozen=True)
class Ground:
    """What features are found and measured on.

    Attributes
    ----------
    volume : Volume
        Envelope against depth; NaN where blank.
    lines : sequence of CleanLine
        Conditioned lines.
    interval_ns : float
        Their sample interval, nanoseconds.
    velocity : VelocityModel
        Behind the volume's depths.
    frequency_mhz : float
        Nominal centre frequency, megahertz.
    shallow_m : float
        Depth down to which the direct wave's remains reach, metres.
    height_m, separation_m : float
        Height of the antennas above the ground; transmitter to receiver, metres.
    shift : PeakShift or None
        How far a known pulse peaks from its depth in this volume.
    room : callable
        Where the gathered traces go: twice the size of all traces.
    """

    volume: Volume
    lines: Sequence[CleanLine]
    interval_ns: float
    velocity: VelocityModel
    frequency_mhz: float
    shallow_m: float
    height_m: float = 0.0
    separation_m: float = 0.0
    shift: PeakShift | None = None
    room: Room = in_memory

    @property
    def wavelength_m(self) -> float:
        """In the ground, metres."""
        return self.velocity.mean_m_per_ns() * 1e3 / self.frequency_mhz

    @property
    def period_ns(self) -> float:
        """Of the centre frequency, nanoseconds."""
        return 1e3 / self.frequency_mhz

    @cached_property
    def pulse_sign(self) -> int:
        """See `gridmap.features.apex.pulse_sign_of`."""
        return pulse_sign_of(self.lines)

    @cached_property
    def gather(self) -> Gather:
        """All traces, made ready once."""
        finest_m = self.wavelength_m / 5
        return Gather.of(self.lines, self.interval_ns, self.separation_m, finest_m, self.room)

    @cached_property
    def walked(self) -> Walked:
        """The lines as short pieces."""
        return Walked.of(self.lines)

    @cached_property
    def usual(self) -> float:
        """Median quality of the sum at random places of the survey and depths of the volume."""
        xy = np.concatenate([ln.xy_m[ln.usable] for ln in self.lines])
        depth = np.resize(self.depths(math.nan), len(xy))
        return usual_quality(np.column_stack([xy, depth]), self.gather, self.velocity)

    def depths(self, about_m: float) -> Float64:
        """Depths at which an echo is looked for, metres: near one that is written, else from top to bottom."""
        axis = self.volume.axis_values()
        first, last = max(0.6 * self.shallow_m, float(axis[0]), 0.05), float(axis[-1])
        if math.isfinite(about_m):
            reach = max(ABOUT_M, ABOUT_SHARE * about_m)
            first, last = max(0.05, min(about_m - reach, last)), min(last, about_m + reach)
        return np.linspace(first, last, max(2, round((last - first) / (self.wavelength_m / 12)) + 1))
