"""Circles that surface objects draw in a volume made for the ground's velocity."""

import numpy as np

from gridmap.features.arcs import circle_of, straight_off_m

LIGHT = 0.299792458  # m/ns, SI


def test_circle_of_a_post_is_found_where_it_stands():
    """A post 3 m away answers at 2 d / c = 20 ns all along a circle about it."""
    angle = np.radians(np.linspace(150, 210, 20))
    path = np.array([7.0, 3.0]) + 3.0 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    circle = circle_of(path, np.full(20, 2 * 3.0 / LIGHT))
    assert np.hypot(circle.x_m - 7.0, circle.y_m - 3.0) < 0.01
    assert circle.off_m < 0.01
    assert straight_off_m(path) > 0.1


def test_a_level_pipe_is_no_circle():
    """A straight pipe seen at 12 ns would need a circle of 1.8 m: it lies off by far more than a trace interval."""
    path = np.stack([np.linspace(0, 5, 26), np.full(26, 2.0)], axis=1)
    assert circle_of(path, np.full(26, 12.0)).off_m > 0.2
