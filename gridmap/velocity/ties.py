"""Ties: echoes of things whose depth is known, each a velocity down to that depth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.image.envelope import envelope
from gridmap.model import LIGHT_M_PER_NS, CleanLine, VelocityModel
from gridmap.site.records import Antenna, Tie

NEAR_M = 0.35
"""A tie's echo is looked for on traces no farther than this from its place, metres."""
TOP_LATE_SHARE, TOP_SD_SHARE = 0.02, 0.03
"""How late an echo peaks after that of the top, and one deviation, in wavelengths; see `top_depth.LATE_SHARE`."""


@dataclass(frozen=True, slots=True)
class TiePick:
    """The echo of a tie.

    Attributes
    ----------
    name : str
        Of the tie.
    depth_m, depth_sd_m : float
        Its known depth and one deviation, metres.
    time_ns, time_sd_ns : float
        Vertical two-way time in the ground to its top, and one deviation without that of time zero,
        nanoseconds.
    """

    name: str
    depth_m: float
    depth_sd_m: float
    time_ns: float
    time_sd_ns: float

    @property
    def velocity_m_per_ns(self) -> float:
        """Mean velocity down to it."""
        return 2.0 * self.depth_m / self.time_ns


def pick_ties(
    ties: Sequence[Tie],
    lines: Sequence[CleanLine],
    interval_ns: float,
    antenna: Antenna,
    expected: VelocityModel,
) -> tuple[tuple[TiePick, ...], tuple[str, ...]]:
    """Find the echo of each tie.

    Parameters
    ----------
    ties : sequence of Tie
        From the site file.
    lines : sequence of CleanLine
        Conditioned lines.
    interval_ns : float
        Sample interval, nanoseconds.
    antenna : Antenna
        Separation, height and frequency.
    expected : VelocityModel
        What is thought before the ties; its deviation says how far from the expected time an echo is looked for:
        two and a half deviations, and half a period more.

    Returns
    -------
    picks : tuple of TiePick
        Those found.
    notes : tuple of str
        Why one was not found.

    Notes
    -----
    The strongest envelope on the traces near the place, where the tie's echo has its apex. Separation and air gap
    are taken off: t0^2 = (t - 2 h / c)^2 - (S / v)^2.
    """
    picks: list[TiePick] = []
    notes: list[str] = []
    period = 1e3 / antenna.frequency_mhz
    gap = 2.0 * antenna.height_m / LIGHT_M_PER_NS
    for tie in ties:
        v = expected.mean_m_per_ns(tie.depth_m)
        guess = float(expected.two_way_ns(tie.depth_m))
        slant = antenna.separation_m / v
        late = TOP_LATE_SHARE * 2.0 * period
        sd = TOP_SD_SHARE * 2.0 * period
        if tie.time_ns is not None:
            seen = tie.time_ns
        else:
            share = expected.sd_m_per_ns / expected.mean_m_per_ns()
            half = 2.5 * guess * float(np.hypot(share, tie.depth_sd_m / tie.depth_m)) + 0.5 * period
            centre = float(np.hypot(guess, slant)) + gap + late
            found = _strongest(tie, lines, interval_ns, max(centre - half, period), centre + half)
            if found is None:
                notes.append(
                    f"tie '{tie.name}': no echo stands out within {NEAR_M} m of x {tie.x_m:g}, y {tie.y_m:g} between "
                    f"{max(centre - half, period):.1f} and {centre + half:.1f} ns. Give time_ns, or check the place."
                )
                continue
            seen = found
        straight = float(np.sqrt(max((seen - gap) ** 2 - slant**2, 0.0))) - late
        if straight <= 0.0:
            notes.append(f"tie '{tie.name}': its echo comes with the direct wave; too shallow to use.")
            continue
        picks.append(TiePick(tie.name, tie.depth_m, tie.depth_sd_m, straight, sd))
    return tuple(picks), tuple(notes)


def _strongest(
    tie: Tie, lines: Sequence[CleanLine], interval_ns: float, first_ns: float, last_ns: float
) -> float | None:
    """Time of the strongest envelope peak near a tie within a span of time, nanoseconds; None: there is none."""
    best, strength = None, 0.0
    for line in lines:
        near = line.usable & (np.hypot(*(line.xy_m - (tie.x_m, tie.y_m)).T) <= NEAR_M)
        if not near.any():
            continue
        size = envelope(line.traces[near])
        a, b = int(first_ns / interval_ns), min(int(last_ns / interval_ns) + 2, size.shape[1] - 1)
        for row in size:
            inner = row[a:b]
            if len(inner) < 3:
                continue
            k = int(np.argmax(inner))
            if 0 < k < len(inner) - 1 and inner[k] > strength and inner[k] > 2.0 * float(np.median(row[a:])):
                left, top, right = (float(x) for x in inner[k - 1 : k + 2])
                shift = 0.5 * (left - right) / (left - 2 * top + right)
                best, strength = (a + k + shift) * interval_ns, top
    return best
