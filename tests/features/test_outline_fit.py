"""Fitted shapes against rectangles and ellipses of known size."""

import math

import numpy as np
import pytest
import shapely
from scipy import ndimage

from gridmap.features.outline_fit import fit_shape

FINE_M, CELL_M = 0.01, 0.05


def blurred_plan(polygon, blur_m, size_m=4.0):
    """Paint a polygon on fine cells, blur it, and take every fifth cell: no formula of the fit is used."""
    at = (np.arange(round(size_m / FINE_M)) + 0.5) * FINE_M
    x, y = np.meshgrid(at, at)
    painted = shapely.contains_xy(polygon, x, y).astype(float)
    blurred = ndimage.gaussian_filter(painted, blur_m / FINE_M)
    return x[2::5, 2::5].ravel(), y[2::5, 2::5].ravel(), blurred[2::5, 2::5].ravel()


@pytest.mark.parametrize("yaw_deg", [0.0, 8.0, 47.0, 68.0, 133.0])
def test_rectangle_in_noise_is_found_within_a_cell(yaw_deg):
    """The blurred image of a plate has its edge at half amplitude, so its sides can be read below the cell."""
    true = shapely.affinity.rotate(shapely.box(1.25, 1.5, 2.75, 2.5), yaw_deg)
    x, y, form = blurred_plan(true, 0.12)
    noise = np.random.default_rng(3).rayleigh(0.8, form.size)
    start = (1.9, 2.1, 1.2, 1.2, math.radians(yaw_deg + 25))
    shape = fit_shape("rectangle", x, y, np.hypot(8 * form, noise), start, 8, 1, (0.05, 0.2))
    ring = shapely.Polygon(shape.ring_m())
    assert ring.intersection(true).area / ring.union(true).area > 0.92
    assert abs((shape.bearing_deg - yaw_deg + 90) % 180 - 90) < 3
    assert shape.length_m == pytest.approx(1.5, abs=CELL_M)
    assert shape.width_m == pytest.approx(1.0, abs=CELL_M)


def test_round_lid_is_fitted_better_by_an_ellipse():
    """A disk has no corners, so the ellipse leaves less."""
    x, y, form = blurred_plan(shapely.Point(2, 2).buffer(0.6), 0.08)
    start = (2.05, 1.95, 1.1, 1.0, 0.3)
    fits = {
        k: fit_shape(k, x, y, np.hypot(5 * form, 1.0), start, 5, 1, (0.05, 0.2))
        for k in ("rectangle", "ellipse")
    }
    assert fits["ellipse"].misfit < 0.6 * fits["rectangle"].misfit
    assert fits["ellipse"].length_m == pytest.approx(1.2, abs=CELL_M)
