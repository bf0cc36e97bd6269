"""Every way to interpolate behind one call: weights found once, from where the points are."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from gridmap.model import Float32, Float64
from gridmap.site.records import Interpolation
from gridmap.volume.kriging import local_kriging
from gridmap.volume.likeness import Likeness
from gridmap.volume.plain import inverse_distance, nearest, on_triangles
from gridmap.volume.sources import Sources
from gridmap.volume.weights import Weights


def find_weights(
    method: Interpolation, points: Sources, target_m: Float64, limit_m: float, likeness: Likeness
) -> tuple[Weights, Float32]:
    """Find the weights of a way to interpolate.

    Parameters
    ----------
    method : "kriging", "linear", "inverse_distance" or "nearest"
        The way.
    points : Sources
        Where values are known.
    target_m : (target, 2) float64
        Where they are wanted, metres.
    limit_m : float
        Places with no point this near stay empty.
    likeness : Likeness
        Covariance of the values, for kriging.

    Returns
    -------
    weights : Weights
        (target, point); rows sum to 1 or are empty.
    sd : (target,) float32
        Standard error over the standard deviation of the values; NaN where empty, and throughout for the ways that
        know none.
    """
    unknown = np.full(len(target_m), np.nan, np.float32)
    if not len(points):
        empty = np.zeros(len(target_m) + 1, np.int64)
        return Weights(empty, np.empty(0, np.int64), np.empty(0, np.float32)), unknown
    near, _ = cKDTree(points.xy_m).query(target_m, distance_upper_bound=limit_m, workers=2)
    rows = np.flatnonzero(np.isfinite(near))
    if method == "kriging":
        return local_kriging(points, target_m, rows, likeness)
    plain = {"linear": on_triangles, "inverse_distance": inverse_distance, "nearest": nearest}[method]
    return plain(points.xy_m, target_m, rows), unknown


def interpolation_in_words(method: Interpolation, likeness: Likeness, ways: int) -> str:
    """Say how values between the lines are found."""
    if method != "kriging":
        return f"between the lines: {method.replace('_', ' ')}, as the site file says"
    long, short = likeness.range_m
    apart = f", {100 * likeness.way:.0f} % only by lines of one direction" if ways > 1 else ""
    return (
        f"between the lines: local kriging, {likeness.shape}, range {long:.2f} m at {likeness.bearing_deg:.0f} degrees "
        f"from x and {short:.2f} m across; of the variance {100 * likeness.common:.0f} % is seen by all lines{apart}, "
        f"{100 * likeness.line:.0f} % by one line alone, {100 * likeness.noise:.0f} % is noise from post to post"
    )
