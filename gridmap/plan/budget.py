"""The radar range equation: how deep a target's echo still stands above noise."""

from __future__ import annotations

import math

from gridmap.plan.formulas import wavelength_m
from gridmap.plan.ground import GroundGuess, Span
from gridmap.plan.request import Sought
from gridmap.plan.target import contrast, echo_area_m2
from gridmap.velocity.dielectric import velocity_of

DIPOLE_GAIN = 1.5
PERFORMANCE_SD_DB = 15.0
"""Recorders, antennas and their contact with the ground differ by this much (common practice)."""
CLUTTER_WAVELENGTHS = Span(10.0, 20.0, 40.0)
"""Beyond so many wavelengths the small echoes of natural ground hide all others (common practice)."""
_DEEPEST_M = 200.0


def loss_db(
    sought: Sought, frequency_mhz: float, permittivity: float, absorption: float, depth_m: float
) -> float:
    """Loss from transmitter to receiver by way of the target at a depth, decibels.

    Parameters
    ----------
    sought : Sought
        Its own depth is not used.
    frequency_mhz, permittivity : float
        Antenna and ground.
    absorption : float
        One way, decibels per metre.
    depth_m : float
        Depth of the target's top, metres.

    Notes
    -----
    P_r / P_s = G^2 w^2 R^2 A / ((4 pi)^3 d^4), less twice the absorption (range equation for ground radar, Annan and
    Davis 1977; from memory), G the gain of a short dipole, A from `echo_area_m2`.
    """
    w = wavelength_m(velocity_of(permittivity), frequency_mhz)
    r = max(abs(contrast(sought, permittivity)), 1e-6)
    area = echo_area_m2(
        sought.shape, sought.material == "metal" and sought.permittivity is None, sought.size_m, depth_m, w
    )
    share = DIPOLE_GAIN**2 * w**2 * r**2 * area / ((4 * math.pi) ** 3 * depth_m**4)
    return 2 * absorption * depth_m - 10 * math.log10(share)


def reach_m(sought: Sought, ground: GroundGuess, frequency_mhz: float, performance_db: float) -> Span:
    """Depth to which a target can be seen: with bad luck, likely, with good luck; metres.

    Parameters
    ----------
    sought : Sought
        What is looked for.
    ground : GroundGuess
        Its lossy end gives the least reach.
    frequency_mhz : float
        Nominal centre frequency.
    performance_db : float
        Of recorder and antennas; `PERFORMANCE_SD_DB` either way.
    """
    absorbed = ground.absorption_db_per_m(frequency_mhz)
    e = ground.permittivity
    worst = _deepest(
        sought,
        frequency_mhz,
        e.high,
        absorbed.high,
        performance_db - PERFORMANCE_SD_DB,
        CLUTTER_WAVELENGTHS.low,
    )
    likely = _deepest(
        sought, frequency_mhz, e.likely, absorbed.likely, performance_db, CLUTTER_WAVELENGTHS.likely
    )
    best = _deepest(
        sought,
        frequency_mhz,
        e.low,
        absorbed.low,
        performance_db + PERFORMANCE_SD_DB,
        CLUTTER_WAVELENGTHS.high,
    )
    return Span(min(worst, likely), likely, max(likely, best))


def _deepest(
    sought: Sought, frequency_mhz: float, e: float, absorption: float, budget_db: float, wavelengths: float
) -> float:
    """Largest depth whose loss is within the budget: the loss grows with depth, so halving finds it."""
    low, high = 0.0, min(_DEEPEST_M, wavelengths * wavelength_m(velocity_of(e), frequency_mhz))
    if loss_db(sought, frequency_mhz, e, absorption, high) <= budget_db:
        return high
    for _ in range(60):
        middle = 0.5 * (low + high)
        if loss_db(sought, frequency_mhz, e, absorption, middle) <= budget_db:
            low = middle
        else:
            high = middle
    return low
