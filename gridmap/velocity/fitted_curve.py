"""The curve that a fitted hyperbola follows on its line, as drawn over a radargram."""

from __future__ import annotations

import numpy as np

from gridmap.model import Float64
from gridmap.site.records import Antenna
from gridmap.velocity.hyperbola import HyperbolaFits
from gridmap.velocity.surface import SurfaceEffect


def fitted_curve(
    fits: HyperbolaFits, event: int, antenna: Antenna, effect: SurfaceEffect, offset_m: Float64
) -> Float64:
    """Give the two-way time of a fit at distances from its apex.

    Parameters
    ----------
    fits : HyperbolaFits
        From `gridmap.velocity.hyperbola.fit_hyperbolas`.
    event : int
        Which one.
    antenna : Antenna
        Separation is used.
    effect : SurfaceEffect
        Of this antenna; nearest tabled velocity and depth.
    offset_m : (offset,) float64
        Along the line, metres, either side.

    Returns
    -------
    (offset,) float64
        Nanoseconds after time zero, of the envelope.
    """
    v, front_ns = float(fits.velocity_m_per_ns[event]), float(fits.time_ns[event])
    angle = float(fits.angle_deg[event])
    squeeze = 1.0 if np.isnan(angle) else float(np.cos(np.radians(angle)))
    z = 0.5 * v * front_ns + fits.radius_m
    i = int(np.abs(effect.velocity_m_per_ns - v).argmin())
    j = int(np.abs(effect.log_depth - np.log(z)).argmin())
    time = np.full(len(offset_m), -2.0 * fits.radius_m / v)
    for side in (-0.5, 0.5):
        off = np.abs(offset_m + side * antenna.separation_m) * squeeze
        time += np.hypot(z, off) / v + np.interp(np.arctan(off / z), effect.angle_rad, effect.delay_ns[i, j])
    return time
