"""Lines and outlines of one thing."""

import numpy as np

from gridmap.features.settle import settle
from gridmap.model import LinearFeature, OutlineFeature


def line(*xyz):
    return LinearFeature(np.array(xyz, float), 0.03, None, 9.0, 0.9, 5, "unclear")


def rectangle(x0, y0, x1, y1, depth):
    ring = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)
    return OutlineFeature(ring, depth, 0.03, None, x1 - x0, y1 - y0, 0.0, 9.0, 0.9)


def test_long_outline_on_a_line_is_told_as_the_line():
    """A pipe blurred across widely spaced lines looks like a strip."""
    linear, outlines, rejected = settle(
        [line((0, 1, 0.8), (6, 1.1, 0.8))], [rectangle(0.2, 0.7, 5.8, 1.4, 0.82)]
    )
    assert len(linear) == 1
    assert not outlines
    assert "linear feature" in rejected[0].reason


def test_strip_above_a_deeper_line_stays():
    """A wall over a pipe is two things."""
    linear, outlines, _ = settle([line((0, 1, 1.5), (6, 1.1, 1.5))], [rectangle(0.2, 0.7, 5.8, 1.4, 0.4)])
    assert (len(linear), len(outlines)) == (1, 1)


def test_line_below_a_wall_at_twice_its_depth_is_its_repeat():
    """What goes up and down twice seems to lie at twice the depth."""
    linear, outlines, rejected = settle(
        [line((0.3, 1, 0.93), (5, 1.1, 0.95))], [rectangle(0.2, 0.7, 5.8, 1.4, 0.43)]
    )
    assert (len(linear), len(outlines)) == (0, 1)
    assert "repeat" in rejected[0].reason


def test_short_line_inside_a_tank_is_part_of_it_and_a_pipe_through_it_is_not():
    """The bright rim of a tank is no pipe; what runs on beyond the tank may be one."""
    tank = rectangle(2, 2, 3.5, 3, 0.6)
    rim, pipe = line((2.1, 2.1, 0.62), (3.4, 2.1, 0.62)), line((0, 2.5, 0.6), (6, 2.5, 0.6))
    linear, outlines, rejected = settle([rim, pipe], [tank])
    assert len(outlines) == 1
    assert len(linear) == 1
    assert linear[0].xyz_m[0, 0] == 0
    assert rejected[0].kind == "linear"


def test_line_that_goes_on_beyond_a_short_outline_on_it_stays_the_line():
    """A bright stretch of a pipe between two lines is no slab."""
    linear, outlines, _ = settle([line((0, 1, 0.8), (6, 1, 0.8))], [rectangle(2, 0.6, 3.9, 1.4, 0.8)])
    assert (len(linear), len(outlines)) == (1, 0)
