"""Rules of survey design as textbooks print them; each with its source."""

from __future__ import annotations

import math

from gridmap.velocity.dielectric import permittivity_of

WINDOW_MARGIN = 1.3
"""Share by which the record outlasts the echo sought (survey-design notes after Annan 2005; from memory)."""


def wavelength_m(velocity_m_per_ns: float, frequency_mhz: float) -> float:
    """Wavelength in the ground, metres: v / f (GPG, Survey)."""
    return 1e3 * velocity_m_per_ns / frequency_mhz


def vertical_resolution_m(velocity_m_per_ns: float, frequency_mhz: float) -> float:
    """Thinnest layer whose two faces are told apart, metres: a quarter wavelength (GPG, Survey)."""
    return wavelength_m(velocity_m_per_ns, frequency_mhz) / 4


def horizontal_resolution_m(velocity_m_per_ns: float, frequency_mhz: float, depth_m: float) -> float:
    """Nearest neighbours told apart before migration, metres: sqrt(v d / 2f) (EMG, survey design)."""
    return math.sqrt(wavelength_m(velocity_m_per_ns, frequency_mhz) * depth_m / 2)


def fresnel_radius_m(velocity_m_per_ns: float, frequency_mhz: float, depth_m: float) -> float:
    """Radius of the first Fresnel zone, metres: sqrt(w d / 2 + w^2 / 16), w the wavelength (Reynolds 1997)."""
    w = wavelength_m(velocity_m_per_ns, frequency_mhz)
    return math.sqrt(w * depth_m / 2 + w * w / 16)


def footprint_radius_m(velocity_m_per_ns: float, frequency_mhz: float, depth_m: float) -> float:
    """Half length of the ground lit at a depth, metres: w / 4 + d / sqrt(e + 1) (Conyers 2013)."""
    return vertical_resolution_m(velocity_m_per_ns, frequency_mhz) + depth_m / math.sqrt(
        permittivity_of(velocity_m_per_ns) + 1
    )


def trace_spacing_m(velocity_m_per_ns: float, frequency_mhz: float, dip_deg: float = 90.0) -> float:
    """Widest spacing of traces that keeps a dip unaliased, metres: c / (4 f sqrt(e) sin dip) (Grasmueck 2005)."""
    return vertical_resolution_m(velocity_m_per_ns, frequency_mhz) / math.sin(math.radians(dip_deg))


def window_ns(velocity_m_per_ns: float, depth_m: float) -> float:
    """Shortest record that holds an echo safely, nanoseconds: 1.3 * 2 d / v (Annan 2005)."""
    return WINDOW_MARGIN * 2 * depth_m / velocity_m_per_ns


def sample_interval_ns(frequency_mhz: float) -> float:
    """Longest sample interval, nanoseconds: 1 / (6 f) (Annan 2005)."""
    return 1e3 / (6 * frequency_mhz)


def resolving_frequency_mhz(permittivity: float, detail_m: float) -> float:
    """Least frequency whose quarter wavelength is a detail, megahertz: 75 / (detail sqrt(e)) (Annan 2005)."""
    return 75 / (detail_m * math.sqrt(permittivity))


def focusing_separation_m(permittivity: float, depth_m: float) -> float:
    """Antenna separation that couples best to a depth, metres: 2 d / sqrt(e - 1) (EMG, survey design)."""
    return 2 * depth_m / math.sqrt(max(permittivity - 1, 1e-9))


def probing_depth_m(permittivity: float, conductivity_s_per_m: float) -> float:
    """Three skin depths, metres: 0.0159 sqrt(e) / sigma (EMG, table of values)."""
    return 0.0159 * math.sqrt(permittivity) / conductivity_s_per_m
