"""Formulas between permittivity, water content, conductivity, velocity, absorption and reflection."""

from __future__ import annotations

import math

from gridmap.model import LIGHT_M_PER_NS

_MU0 = 4e-7 * math.pi
_EPSILON0 = 1e-18 / (_MU0 * LIGHT_M_PER_NS**2)


def velocity_of(permittivity: float) -> float:
    """Velocity in ground of low loss, metres per nanosecond: c / sqrt(permittivity)."""
    return LIGHT_M_PER_NS / math.sqrt(permittivity)


def permittivity_of(velocity_m_per_ns: float) -> float:
    """Relative permittivity that goes with a velocity, (c / v)^2."""
    return (LIGHT_M_PER_NS / velocity_m_per_ns) ** 2


def water_content(permittivity: float) -> float:
    """Volumetric water content, 0 to 1, of mineral soil by Topp's polynomial (Topp 1980)."""
    e = permittivity
    return -0.053 + 0.0292 * e - 5.5e-4 * e**2 + 4.3e-6 * e**3


def mixture_permittivity(
    porosity: float, saturation: float, grain: float = 4.5, water: float = 80.0, air: float = 1.0
) -> float:
    """Permittivity of grains, water and air by the complex refractive index model (Birchak 1974, Roth 1990).

    Parameters
    ----------
    porosity, saturation : float
        Share of the volume that is pores, and share of the pores that holds water; 0 to 1.
    grain, water, air : float
        Relative permittivity of each.
    """
    root = (1 - porosity) * math.sqrt(grain) + porosity * saturation * math.sqrt(water)
    return (root + porosity * (1 - saturation) * math.sqrt(air)) ** 2


def loss_tangent(frequency_mhz: float, permittivity: float, conductivity_s_per_m: float) -> float:
    """Conduction over displacement current, sigma / (omega epsilon)."""
    return conductivity_s_per_m / (2e6 * math.pi * frequency_mhz * permittivity * _EPSILON0)


def absorption_db_per_m(frequency_mhz: float, permittivity: float, conductivity_s_per_m: float) -> float:
    """Absorption of a plane wave, decibels per metre, exact for any loss."""
    loss = loss_tangent(frequency_mhz, permittivity, conductivity_s_per_m)
    omega = 2e6 * math.pi * frequency_mhz
    root = math.sqrt(0.5 * _MU0 * permittivity * _EPSILON0) * omega
    return 20.0 / math.log(10.0) * root * math.sqrt(math.sqrt(1.0 + loss**2) - 1.0)


def phase_velocity(frequency_mhz: float, permittivity: float, conductivity_s_per_m: float) -> float:
    """Velocity with loss, metres per nanosecond; equals `velocity_of` where the loss tangent is small."""
    loss = loss_tangent(frequency_mhz, permittivity, conductivity_s_per_m)
    return velocity_of(permittivity) / math.sqrt(0.5 * (math.sqrt(1.0 + loss**2) + 1.0))


def reflection(above: float, below: float) -> float:
    """Reflection coefficient straight down between two permittivities; negative: the echo is reversed."""
    return (math.sqrt(above) - math.sqrt(below)) / (math.sqrt(above) + math.sqrt(below))
