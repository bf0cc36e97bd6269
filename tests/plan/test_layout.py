"""Lines over an area."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from gridmap.errors import SiteError
from gridmap.plan.layout import lay_lines

SIDES = st.floats(1.0, 40.0)


@given(SIDES, SIDES, st.sampled_from([0.1, 0.25, 0.5, 1.0]), st.booleans(), st.sampled_from("xy"))
def test_no_ground_lies_farther_than_the_spacing_between_lines(wide, high, spacing, zigzag, axis):
    """From edge to edge, no step is wider than asked, and zig-zag turns every second line."""
    lines, left_out = lay_lines([(0, 0), (wide, 0), (wide, high), (0, high)], axis, spacing, zigzag)
    across, along = (0, 1) if axis == "y" else (1, 0)
    where = [line.start_m[across] for line in lines]
    far = (wide, high)[across]
    assert left_out == 0
    assert where[0] == 0
    assert far - where[-1] <= 0.021
    assert all(0 < b - a <= spacing + 2e-3 for a, b in pairwise(where))
    forward = [line.end_m[along] > line.start_m[along] for line in lines]
    assert forward == [not zigzag or k % 2 == 0 for k in range(len(lines))]


def test_a_field_with_a_notch_gets_two_pieces():
    """Lines lie inside the area, and their length times the spacing is its size."""
    corners = [(0, 0), (20, 0), (20, 10), (12, 10), (12, 4), (8, 4), (8, 10), (0, 10)]
    lines, _ = lay_lines(corners, "x", 0.5, True)
    area = Polygon(corners)
    assert all(area.buffer(2e-3).contains(LineString([line.start_m, line.end_m])) for line in lines)
    assert sum(line.length_m for line in lines) * 0.5 == pytest.approx(area.area, rel=0.06)
    level = [line for line in lines if line.start_m[1] == 8.0]
    assert sorted(round(line.length_m, 3) for line in level) == [8.0, 8.0]
    assert len({line.name for line in lines}) == len(lines)


def test_narrow_corners_are_told():
    """A piece under half a metre is left out, and its length is not lost silently."""
    lines, left_out = lay_lines([(0, 0), (4, 0), (0, 4)], "x", 0.25, False)
    whole = sum(max(4 - 0.25 * k, 0) for k in range(17))
    assert left_out > 0
    assert sum(line.length_m for line in lines) + left_out == pytest.approx(whole, abs=0.01)
    assert math.isclose(lines[0].length_m, 4)


@pytest.mark.parametrize(
    ("corners", "words"),
    [([(0, 0), (4, 4), (4, 0), (0, 4)], "cross"), ([(0, 0), (1, 0), (2, 0)], "area")],
)
def test_no_area_is_refused(corners, words):
    """Crossed or flat outlines hold no ground."""
    with pytest.raises(SiteError, match=words):
        lay_lines(corners, "x", 0.25, True)
