"""Traces between pegs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.errors import PlaceError
from gridmap.model import IDENTITY, Line, Similarity
from gridmap.place.tape import outside_grid, place_by_pegs, positions_table


def line(count: int, number=None, name: str = "L01") -> Line:
    numbers = None if number is None else np.asarray(number, dtype=np.int64)
    return Line(name, np.zeros((count, 4), np.float32), 0.2, trace_number=numbers)


def test_traces_are_evenly_spaced_from_peg_to_peg():
    """Five traces over two metres lie half a metre apart, whichever way the line was walked."""
    there = place_by_pegs(line(5), (1.0, 0.0), (1.0, 2.0))
    back = place_by_pegs(line(5), (1.0, 2.0), (1.0, 0.0))
    assert there.xy_m.tolist() == [[1.0, 0.0], [1.0, 0.5], [1.0, 1.0], [1.0, 1.5], [1.0, 2.0]]
    assert back.xy_m.tolist() == there.xy_m[::-1].tolist()
    assert back.along_m.tolist() == [0.0, 0.5, 1.0, 1.5, 2.0]
    assert there.xy_m.dtype == np.float64


def test_a_dropped_trace_leaves_a_gap():
    """Triggers 1, 2, 4, 5 lie at 0, 1, 3 and 4 of four metres: what was dropped is not closed up."""
    placed = place_by_pegs(line(4, [1, 2, 4, 5]), (0.0, 0.0), (4.0, 0.0))
    assert placed.along_m.tolist() == [0.0, 1.0, 3.0, 4.0]
    assert placed.xy_m[:, 0].tolist() == [0.0, 1.0, 3.0, 4.0]


def test_an_offset_lies_ahead_in_the_walking_direction():
    """A mid-point 0.2 m ahead of the mark lies 0.2 m on, so there and back differ by twice that."""
    there = place_by_pegs(line(3), (0.0, 0.0), (0.0, 2.0), offset_along_m=0.2)
    back = place_by_pegs(line(3), (0.0, 2.0), (0.0, 0.0), offset_along_m=0.2)
    assert there.xy_m[:, 1] == pytest.approx([0.2, 1.2, 2.2])
    assert back.xy_m[:, 1] == pytest.approx([1.8, 0.8, -0.2])
    assert there.along_m.tolist() == [0.0, 1.0, 2.0]


def test_a_slanting_offset_keeps_to_the_line():
    """On a 3-4-5 line an offset of 0.5 m is 0.3 m in x and 0.4 m in y."""
    placed = place_by_pegs(line(2), (0.0, 0.0), (3.0, 4.0), offset_along_m=0.5)
    assert placed.xy_m == pytest.approx(np.array([[0.3, 0.4], [3.3, 4.4]]))


@given(
    steps=st.lists(st.integers(1, 5), min_size=1, max_size=50),
    first=st.integers(-1000, 100000),
    pegs=st.lists(st.floats(-500, 500), min_size=4, max_size=4),
)
def test_the_pegs_are_met_and_the_way_is_straight(steps, first, pegs):
    """First and last trace stand on their pegs, and spacing follows the triggers."""
    start, end = tuple(pegs[:2]), tuple(pegs[2:])
    length = np.hypot(end[0] - start[0], end[1] - start[1])
    if length < 0.5:
        return
    number = first + np.concatenate([[0], np.cumsum(steps)])
    placed = place_by_pegs(line(len(number), number), start, end)
    assert placed.xy_m[0].tolist() == list(start)
    assert placed.xy_m[-1].tolist() == list(end)
    assert np.all(np.diff(placed.along_m) > 0)
    assert np.diff(placed.along_m) == pytest.approx(np.array(steps) * length / sum(steps))
    assert np.hypot(*(placed.xy_m - placed.xy_m[0]).T) == pytest.approx(placed.along_m, abs=1e-9)


@pytest.mark.parametrize(("count", "words"), [(0, "0 traces"), (1, "1 trace,")])
def test_too_few_traces_are_refused(count, words):
    """One trace cannot lie at two pegs."""
    with pytest.raises(PlaceError, match=f"line L01 has {words}"):
        place_by_pegs(line(count), (0.0, 0.0), (1.0, 0.0))


@pytest.mark.parametrize("number", [[1, 2, 2, 3], [1, 2, 1, 3]])
def test_triggers_that_do_not_increase_are_refused(number):
    """A trigger number that stands still or falls is named with its trace."""
    with pytest.raises(PlaceError, match=r"line L01, trace 3: trigger number . comes after 2"):
        place_by_pegs(line(4, number), (0.0, 0.0), (1.0, 0.0))


def test_pegs_that_cannot_be_are_refused():
    """Pegs in one place, or no numbers, are refused with the line's name."""
    with pytest.raises(PlaceError, match="L01 ends where it starts"):
        place_by_pegs(line(4), (1.0, 1.0), (1.0, 1.0))
    with pytest.raises(PlaceError, match="L01: its pegs"):
        place_by_pegs(line(4), (1.0, float("nan")), (1.0, 1.0))
    with pytest.raises(PlaceError, match="4 traces and 3 trigger numbers"):
        place_by_pegs(line(4, [1, 2, 3]), (0.0, 0.0), (1.0, 1.0))


def test_a_line_inside_the_grid_is_quiet():
    """Up to the margin nothing is said."""
    placed = place_by_pegs(line(5), (6.0, -0.4), (6.0, 8.4))
    assert outside_grid(placed, (6.0, 8.0), margin_m=0.5) is None


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [
        ((-3.0, 0.0), (2.0, 0.0), "3.00 m outside the grid (below x = 0, worst at trace 1)"),
        ((1.0, 5.0), (1.0, -2.0), "2.00 m outside the grid (below y = 0, worst at trace 5)"),
        ((0.0, 1.0), (60.0, 1.0), "54.00 m outside the grid (beyond x = 6 m, worst at trace 5)"),
        ((1.0, 9.25), (1.0, 0.0), "1.25 m outside the grid (beyond y = 8 m, worst at trace 1)"),
    ],
)
def test_a_line_outside_the_grid_is_told(start, end, words):
    """The line, the side, the distance and the trace are named."""
    warning = outside_grid(place_by_pegs(line(5), start, end), (6.0, 8.0), margin_m=0.5)
    assert warning.startswith(f"line L01 lies up to {words}")


def test_positions_are_listed_in_grid_and_map():
    """A quarter turn takes x to north and y to west, and each row keeps its line, trace and trigger."""
    lines = [
        place_by_pegs(line(2, [1, 5]), (0.0, 0.0), (0.0, 4.0)),
        place_by_pegs(line(2, name="L02"), (1.0, 4.0), (1.0, 0.0)),
    ]
    table = positions_table(lines, Similarity(500.0, 900.0, 0.0, 1.0))
    assert table.line == ("L01", "L01", "L02", "L02")
    assert table.trace.tolist() == [1, 2, 1, 2]
    assert table.trigger.tolist() == [1, 5, 1, 2]
    assert table.x_m.tolist() == [0.0, 0.0, 1.0, 1.0]
    assert table.y_m.tolist() == [0.0, 4.0, 4.0, 0.0]
    assert table.easting_m.tolist() == [500.0, 496.0, 496.0, 500.0]
    assert table.northing_m.tolist() == [900.0, 900.0, 901.0, 901.0]


def test_positions_without_a_map_have_no_eastings():
    """A grid without control points is listed in grid metres alone, and no lines give no rows."""
    assert positions_table([place_by_pegs(line(2), (0.0, 0.0), (0.0, 4.0))], None).easting_m is None
    assert positions_table([], IDENTITY).trace.size == 0
