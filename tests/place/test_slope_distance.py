"""Slope distance: Pythagoras on even slopes, and a table of a hill."""

import math

import numpy as np
import pytest

from gridmap.model import Line, PlacedLine
from gridmap.place.slope_distance import by_slope_distance, slope_lengths


def placed(count=101, step=0.1):
    along = step * np.arange(count)
    line = Line("L", np.zeros((count, 4), np.float32), 0.2)
    return PlacedLine(line, np.stack([along, np.full(count, 2.0)], axis=1), along)


def test_wheel_up_a_slope_goes_less_far_on_the_map():
    """10 m of wheel up 20 degrees are 10 cos(20) = 9.397 m on the level."""
    rise = math.tan(math.radians(20))
    out, move = by_slope_distance(placed(), lambda xy: rise * xy[:, 0], np.array([0]))
    assert out.xy_m[-1, 0] == pytest.approx(10 * math.cos(math.radians(20)), abs=1e-3)
    assert out.xy_m[:, 1] == pytest.approx(2.0)
    assert move == pytest.approx(10 * (1 - math.cos(math.radians(20))), abs=1e-3)


def test_even_slope_between_pegs_moves_nothing():
    """Between two pegs an even slope stretches every metre alike."""
    line = placed()
    out, move = by_slope_distance(line, lambda xy: 0.4 * xy[:, 0], np.array([0, 100]))
    assert out is line
    assert move < 1e-3


def test_bank_between_pegs_draws_traces_to_it():
    """5 m level, then 5 m at 3 in 4: 1.25 m of slope a metre, so half the wheel's 11.25 m is at 5.5 m."""
    out, _ = by_slope_distance(
        placed(), lambda xy: 0.75 * np.maximum(xy[:, 0] - 5.0, 0.0), np.array([0, 100])
    )
    assert out.xy_m[[0, -1], 0] == pytest.approx([0.0, 10.0])
    assert out.along_m[50] == pytest.approx(5.0 + (11.25 / 2 - 5.0) / 1.25, abs=0.03)


def test_unknown_ground_leaves_the_line_as_it_is():
    """Without heights all along, nothing is moved, and that is told by NaN."""
    line = placed()
    out, move = by_slope_distance(line, lambda xy: np.where(xy[:, 0] > 5, np.nan, 0.0), np.array([0, 100]))
    assert out is line
    assert math.isnan(move)


def test_slope_length_of_a_3_4_5_triangle():
    """Pythagoras."""
    assert slope_lengths(np.array([0.0, 4.0, 8.0]), np.array([0.0, 3.0, 0.0])) == pytest.approx([0, 5, 10])
