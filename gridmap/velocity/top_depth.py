"""From the depth at which a migrated echo is strongest to the depth of the object's top.

Time zero is the moment at which the centre of the pulse leaves, and every filter is of zero phase, so the peak
of the envelope of an echo from a plane mirror stands at the mirror. What remains:

- the air below the antennas delays every echo; the volume counts that delay as ground;
- an object is no mirror: the echo of its front is joined by what crept round it or went through it. Such a pair peaks
  later than its first half. How much follows from the series for a cylinder (Rayleigh 1881; Balanis 1989, section
  11.5 [memory]) and for a layer (Airy's sum [memory]), as a share of the wavelength.
"""

from __future__ import annotations

import numpy as np

from gridmap.model import LIGHT_M_PER_NS, Float64, VelocityModel
from gridmap.model.feature import Polarity
from gridmap.velocity.hyperbola import TIME_ZERO_SD_NS
from gridmap.velocity.peak_shift import PeakShift, Target

LATE_SHARE: dict[tuple[Target, Polarity], tuple[float, float]] = {
    ("line", "reversed"): (-0.008, 0.015),
    ("line", "same"): (0.042, 0.02),
    ("line", "unclear"): (0.02, 0.03),
    ("area", "reversed"): (0.0, 0.015),
    ("area", "same"): (0.035, 0.035),
    ("area", "unclear"): (0.02, 0.035),
    ("point", "reversed"): (0.0, 0.02),
    ("point", "same"): (0.03, 0.03),
    ("point", "unclear"): (0.02, 0.035),
}
"""How far below the top the envelope peaks and one deviation, in wavelengths, by kind and sign of the echo.

Mean and spread over metal, air-filled and plastic cylinders of 1 to 10 cm radius, and over layers from a tenth
of a wavelength to two wavelengths thick, for a Ricker pulse; tests compute both anew."""

SHIFT_SD_SHARE = 0.04
"""Deviation of what gain and migration do to the peak, in wavelengths, where it was not measured."""
PICK_SD_SHARE = 0.02
"""Deviation of a picked peak, in wavelengths, where the caller knows none."""


def depth_to_top(
    peak_depth_m: Float64 | float,
    velocity: VelocityModel,
    frequency_mhz: float,
    *,
    height_m: float = 0.0,
    target: Target = "line",
    polarity: Polarity = "unclear",
    pick_sd_m: float | None = None,
    shift: PeakShift | None = None,
) -> tuple[Float64, Float64]:
    """Give the depth of an object's top for the depth at which its echo is strongest in the volume.

    The signature is stable: finders of linear features and of outlines call it.

    Parameters
    ----------
    peak_depth_m : (...) float64 or float
        Depth below the surface at which the envelope in the volume peaks, metres.
    velocity : VelocityModel
        The model that the volume was made with.
    frequency_mhz, height_m : float
        Centre frequency of the antenna and its height above the ground, `site.antenna`.
    target : "line", "area" or "point"
        What kind of thing echoes.
    polarity : "same", "reversed" or "unclear"
        Sign of the echo against the direct wave, see `gridmap.model.feature.Polarity`.
    pick_sd_m : float or None
        One standard deviation of the picked depth (scatter along the object, over the root of the independent
        picks), metres; None: a fiftieth of the wavelength.
    shift : PeakShift or None
        What gain, surface and migration did to a known pulse in this survey
        (`gridmap.velocity.peak_shift.measure_peak_shift`); None: only the air gap is taken off.

    Returns
    -------
    depth_m : (...) float64
        Depth to the top, metres, not negative.
    depth_sd_m : (...) float64
        One standard deviation, metres: velocity, time zero, pick and what is not known of the object.
    """
    peak = np.asarray(peak_depth_m, dtype=float)
    if shift is None:
        time_ns = np.maximum(velocity.two_way_ns(peak) - 2.0 * height_m / LIGHT_M_PER_NS, 0.0)
        front, shift_sd = velocity.depth_m(time_ns), SHIFT_SD_SHARE
    else:
        front, shift_sd = peak - shift.late_m(peak, target), 0.5 * SHIFT_SD_SHARE
    near = np.clip(np.searchsorted(velocity.top_m, peak, side="right") - 1, 0, None)
    wavelength_m = velocity.velocity_m_per_ns[near] * 1e3 / frequency_mhz
    late, late_sd = LATE_SHARE[(target, polarity)]
    depth = np.maximum(front - late * wavelength_m, 0.0)
    pick_sd = PICK_SD_SHARE * wavelength_m if pick_sd_m is None else pick_sd_m
    time_sd = 0.5 * velocity.velocity_m_per_ns[near] * TIME_ZERO_SD_NS
    object_sd = np.hypot(late_sd, shift_sd) * wavelength_m
    sd = np.sqrt(velocity.depth_sd_m(depth) ** 2 + time_sd**2 + pick_sd**2 + object_sd**2)
    return np.asarray(depth), np.asarray(sd)
