"""Cells, depths and blanks."""

import numpy as np
import pytest

from gridmap.model import Grid
from gridmap.volume.blank import distance_to_trace
from gridmap.volume.layout import choose_cell_m, choose_depths, lay_grid


@pytest.mark.parametrize(
    ("line_m", "wavelength_m", "cell_m"),
    [(0.25, 0.36, 0.05), (0.5, 0.36, 0.05), (0.5, 1.0, 0.1), (0.1, 0.2, 0.025), (0.08, 0.25, 0.05)],
)
def test_cell_is_no_wider_than_a_quarter_of_the_wavelength(line_m, wavelength_m, cell_m):
    """And a quarter of the line spacing, unless lines leave nothing between them; round numbers."""
    assert choose_cell_m(line_m, 0.02, wavelength_m) == cell_m


def test_cell_is_no_finer_than_half_the_trace_interval():
    """0.1 m traces carry nothing finer than 0.05 m."""
    assert choose_cell_m(0.1, 0.1, 0.2) == 0.05


def test_grid_covers_all_traces_on_round_numbers():
    """Cell centres lie on whole multiples of the cell, outermost traces inside."""
    xy = np.array([[0.013, -0.02], [2.481, 3.02]])
    grid = lay_grid([xy], 0.05, 0.1)
    assert grid.x_first_m <= 0.013 - 0.1 + 0.05
    assert grid.x_m()[-1] >= 2.481 + 0.1 - 0.05
    assert np.allclose(np.round(grid.x_m() / 0.05), grid.x_m() / 0.05)


def test_depths_step_a_twelfth_of_the_wavelength():
    """0.25 m: 0.02 m steps, from the surface."""
    depth = choose_depths(2.0, 0.25)
    assert depth[0] == 0
    assert depth[1] == pytest.approx(0.02)
    assert depth[-1] == pytest.approx(2.0)


def test_distance_is_to_the_nearest_trace():
    """3-4-5: a cell 0.3 m east and 0.4 m north of the only trace is 0.5 m away."""
    distance = distance_to_trace(np.array([[0.0, 0.0]]), Grid(0, 0, 0.1, 10, 10))
    assert distance[4, 3] == pytest.approx(0.5)
