"""Which windows of depth or time the slices stand for."""

from __future__ import annotations

import math

from gridmap.model import VelocityModel, Window

THINNEST_NS = 2.0
"""A slice thinner than this cuts a pulse in two (University of Denver, SERDP test-site study, "Conclusions")."""

NICE_M = (0.02, 0.04, 0.06, 0.08, 0.10, 0.12, 0.16, 0.20, 0.24, 0.30, 0.40, 0.50)
"""Thicknesses whose halves are whole centimetres."""


def slice_thickness_m(velocity_m_per_ns: float, frequency_mhz: float) -> float:
    """Thickness of a depth slice: a quarter wavelength, no less than 2 ns, rounded up to a number easy to read.

    Parameters
    ----------
    velocity_m_per_ns : float
        Metres per nanosecond.
    frequency_mhz : float
        Centre frequency, megahertz.

    Returns
    -------
    float
        Metres. A quarter wavelength is the vertical resolution (GPG, Survey).
    """
    quarter = 0.25 * velocity_m_per_ns * 1e3 / frequency_mhz
    wanted = max(quarter, 0.5 * velocity_m_per_ns * THINNEST_NS)
    return next((size for size in NICE_M if size >= wanted - 1e-9), math.ceil(wanted * 10 - 1e-9) / 10)


def depth_windows(
    depth_max_m: float, thickness_m: float, overlap: float, velocity: VelocityModel
) -> tuple[Window, ...]:
    """Windows of depth from the surface down.

    Parameters
    ----------
    depth_max_m : float
        No window reaches deeper, metres.
    thickness_m : float
        Of each window, metres.
    overlap : float
        Share of a window that the next repeats, 0 to below 1.
    velocity : VelocityModel
        Gives each window its span of time.

    Returns
    -------
    tuple of Window
        From the top down, whole centimetres apart; at least one.
    """
    step = max(round(thickness_m * (1 - overlap), 2), 0.01)
    count = max(1, math.floor((depth_max_m - thickness_m) / step + 1e-6) + 1)
    windows = []
    for i in range(count):
        top, base = round(i * step, 4), round(i * step + thickness_m, 4)
        windows.append(
            Window("depth", top, base, float(velocity.two_way_ns(top)), float(velocity.two_way_ns(base)))
        )
    return tuple(windows)


def time_windows(
    time_max_ns: float, thickness_ns: float, overlap: float, velocity: VelocityModel
) -> tuple[Window, ...]:
    """Windows of two-way time from time zero on; as `depth_windows`, in nanoseconds."""
    step = round(thickness_ns * (1 - overlap), 3)
    count = max(1, math.floor((time_max_ns - thickness_ns) / step + 1e-6) + 1)
    windows = []
    for i in range(count):
        top, base = round(i * step, 3), round(i * step + thickness_ns, 3)
        windows.append(Window("time", float(velocity.depth_m(top)), float(velocity.depth_m(base)), top, base))
    return tuple(windows)
