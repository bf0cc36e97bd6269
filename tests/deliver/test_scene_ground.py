"""Heights of the scene's ground at any places."""

import numpy as np
import pytest

from gridmap.deliver.scene_ground import scene_ground
from gridmap.model import Grid


def test_height_of_one_place_and_of_many_on_a_plane():
    """On a plane z = 100 + 0.2 x + 0.1 y the bilinear height is the plane's own; beyond the rim it is held."""
    grid = Grid(0.0, 0.0, 0.5, 5, 7)
    y, x = np.meshgrid(0.5 * np.arange(5), 0.5 * np.arange(7), indexing="ij")
    ground = scene_ground(grid, 100 + 0.2 * x + 0.1 * y)
    one = ground.up_m(np.array([1.3, 0.7]))
    assert one.shape == ()
    assert one + ground.origin_m == pytest.approx(100 + 0.26 + 0.07)
    many = ground.up_m(np.array([[[1.3, 0.7], [0.0, 0.0]], [[3.0, 2.0], [9.0, 0.0]]]))
    assert many.shape == (2, 2)
    assert many + ground.origin_m == pytest.approx(np.array([[100.33, 100.0], [100.8, 100.6]]))
