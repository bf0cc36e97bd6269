"""When two shapes are the same thing; figures worked out by hand."""

import numpy as np
import pytest
from shapely import LineString, Point, box

from gridmap.features.likeness import likeness, share_along

NAN = float("nan")


def test_a_piece_of_a_line_is_like_the_line():
    """Five of ten metres: the piece lies wholly along the line, 5.3 of the line's 10 m within 0.3 m of the piece."""
    whole, piece = LineString([(0, 0), (10, 0)]), LineString([(0, 0.1), (5, 0.1)])
    assert share_along(piece, whole) == pytest.approx(1.0)
    assert share_along(whole, piece) == pytest.approx((5 + np.sqrt(0.3**2 - 0.1**2)) / 10, abs=1e-3)
    assert likeness("linear", whole, NAN, piece, NAN) == pytest.approx(0.5 * (1 + 0.5283), abs=1e-3)


def test_lines_that_cross_or_lie_one_above_the_other_are_not_the_same():
    """A crossing shares 0.6 of 10 m; pipes 0.4 m apart in depth at 0.5 m are two."""
    one, two = LineString([(0, 0), (10, 0)]), LineString([(5, -5), (5, 5)])
    assert likeness("linear", one, 0.5, two, 0.5) == 0
    assert likeness("linear", one, 0.5, one, 0.9) == 0
    assert likeness("linear", one, 0.5, one, 0.5) == 1


def test_areas_by_intersection_over_union_and_points_by_distance():
    """Unit squares half a side apart: 0.5 / 1.5; points 0.15 of 0.3 m apart: one half."""
    assert likeness("outline", box(0, 0, 1, 1), NAN, box(0.5, 0, 1.5, 1), NAN) == pytest.approx(1 / 3)
    assert likeness("outline", box(0, 0, 1, 1), NAN, box(0.6, 0, 1.6, 1), NAN) == 0
    assert likeness("point", Point(0, 0), NAN, Point(0.15, 0), NAN) == pytest.approx(0.5)
