"""Line rules, written out."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.site.keys import row_of
from gridmap.site.rules import end_from_direction, last_number, natural_key, number_gap, off_line_m, write_out


def test_numbers_sort_as_numbers():
    """L2 comes before L10, folder by folder."""
    names = ["b/L1", "a/L10", "a/L2", "a/L", "a/L2b"]
    assert sorted(names, key=natural_key) == ["a/L", "a/L2", "a/L2b", "a/L10", "b/L1"]


@given(st.lists(st.text(max_size=6), max_size=8))
def test_any_names_can_be_sorted(names):
    """Digits of other scripts and names that begin with digits sort without error."""
    assert sorted(sorted(names, key=natural_key)) == sorted(names)


def test_the_last_number_counts():
    """Of day 3, line 12 the line's number is 12."""
    assert last_number("day3_L12") == 12
    assert last_number("L12_raw") == 12
    assert last_number("tie") is None


@pytest.mark.parametrize(
    ("numbers", "gap"),
    [
        ([1, 2, 3], None),
        ([1, 2, 4], 1),
        ([1, 2, 3, 5, 6], 3),
        ([2, 4, 6, 8], None),
        ([1, 3], None),
        ([1, 1, 2, 3], 1),
    ],
)
def test_uneven_numbers_are_found(numbers, gap):
    """Even steps of any size are no gap; the first other step is."""
    found = number_gap([f"L{n}" for n in numbers])
    if numbers == [1, 2, 4]:  # two steps, one of each size: either may be the odd one, and one is told
        assert found in (1, 2)
    else:
        assert found == gap


def test_names_without_numbers_have_no_gap():
    """Nothing is said of names that count nothing."""
    assert number_gap(["north", "middle", "south"]) is None


def test_ten_centimetre_steps_are_exact():
    """Three steps of 0.1 m are 0.3 m, not 0.30000000000000004."""
    pegs = write_out((0.0, 0.0), (0.0, 5.0), (0.1, 0.0), 4, zigzag=False)
    assert pegs[3] == ((0.3, 0.0), (0.3, 5.0))


@given(
    end=st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
    step=st.tuples(st.floats(-5, 5), st.floats(-5, 5)),
    count=st.integers(1, 40),
)
def test_zigzag_turns_every_second_line_and_moves_none(end, step, count):
    """With zig-zag lines 2, 4, ... run the other way; the pegs and the lengths stay."""
    plain = write_out((0.0, 0.0), end, step, count, zigzag=False)
    zigzag = write_out((0.0, 0.0), end, step, count, zigzag=True)
    assert zigzag[::2] == plain[::2]
    assert zigzag[1::2] == [(b, a) for a, b in plain[1::2]]
    for start, stop in plain:
        assert math.dist(start, stop) == pytest.approx(math.hypot(*end), abs=5e-6)


def test_a_step_is_measured_at_right_angles():
    """On a line to the north-east a step of 1 m east leads 0.7071 m off the line, one along it nothing."""
    assert off_line_m((0, 0), (3, 3), (1, 0)) == pytest.approx(math.sqrt(0.5))
    assert off_line_m((0, 0), (3, 3), (1, 1)) == pytest.approx(0.0)
    assert off_line_m((2, 1), (2, 9), (0.25, 0)) == pytest.approx(0.25)


def test_the_end_follows_the_direction():
    """Eight metres towards smaller y."""
    assert end_from_direction((1.0, 2.0), (0, -1), 8.0) == (1.0, -6.0)


def test_rows_are_found_by_table_and_key():
    """The second [[line]] is told from the first, and a key that is missing gives its heading."""
    text = "# top\n[site]\nname='a'\n\n[[line]]\nfile='a'\n[[line]]\n  file = 'b'\nend_m=[1,2]\n[antenna]\n"
    assert row_of(text, "site", 0, "name") == 3
    assert row_of(text, "line", 1, "file") == 8
    assert row_of(text, "line", 1, "end_m") == 9
    assert row_of(text, "line", 1, "start_m") == 7
    assert row_of(text, "line", 2) is None
