"""Whether the velocity changes across the site: a plane through the targets' velocities, if it earns its place."""

from __future__ import annotations

import numpy as np

from gridmap.velocity.hyperbola import HyperbolaFits
from gridmap.velocity.profile import Profile

LEAST_TARGETS = 6
"""Fewer targets tell no plane."""
LEAST_GAIN = 10.0
"""The information criterion must fall by this much: "very strong" evidence (Kass & Raftery 1995 [memory])."""


def area_trend(fits: HyperbolaFits, profile: Profile) -> str | None:
    """Say how the velocity changes across the site, where the hyperbolas clearly show it.

    Parameters
    ----------
    fits : HyperbolaFits
        All hyperbolas.
    profile : Profile
        Fitted to their targets, in the order of `gridmap.velocity.profile.join_targets`.

    Returns
    -------
    str or None
        A sentence with the change from end to end; None: one velocity is enough.

    Notes
    -----
    Weighted least squares of log(velocity / that of the profile) on x and y; two numbers more must lower
    chi^2 + p ln n (Schwarz 1978 [memory]) by `LEAST_GAIN`. The deviations are widened until the plane fits.
    """
    targets = profile.targets
    numbers = np.unique(fits.target[fits.accepted])
    if len(numbers) != len(targets.time_ns) or len(numbers) < LEAST_TARGETS:
        return None
    xy = np.array(
        [[np.mean(p[fits.accepted & (fits.target == k)]) for p in (fits.x_m, fits.y_m)] for k in numbers]
    )
    rms = profile.model.rms_m_per_ns(profile.model.depth_m(targets.time_ns))
    off = np.log(targets.velocity_m_per_ns / rms)
    usual = np.abs(off - np.median(off)) < 0.25
    if usual.sum() < LEAST_TARGETS:
        return None
    weight = 1.0 / targets.log_sd[usual]
    plane = np.column_stack([np.ones(usual.sum()), xy[usual] - xy[usual].mean(axis=0)])
    flat = off[usual] - np.average(off[usual], weights=weight**2)
    slope, *_ = np.linalg.lstsq(plane * weight[:, None], off[usual] * weight, rcond=None)
    left = off[usual] - plane @ slope
    widen = max(1.0, float(((left * weight) ** 2).sum()) / max(1, usual.sum() - 3))
    gain = float(((flat * weight) ** 2).sum() - ((left * weight) ** 2).sum()) / widen
    if gain - 2.0 * np.log(usual.sum()) < LEAST_GAIN:
        return None
    change = plane[:, 1:] @ slope[1:]
    low, high = xy[usual][change.argmin()], xy[usual][change.argmax()]
    more = 100 * (np.exp(np.ptp(change)) - 1)
    return (
        f"the velocity changes across the site: {more:.0f} % faster near x {high[0]:.0f}, y {high[1]:.0f} than near "
        f"x {low[0]:.0f}, y {low[1]:.0f}. One velocity is used for all; depths at the ends are off by half of that."
    )
