from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from gridmap.errors import ReadError
from gridmap.read import read_segy


def test_trigger_numbers_with_a_gap_are_kept(make) -> None:
    """A missing number is a dropped trace; the numbers come through as they are."""
    numbers = [1, 2, 3, 6, 7, 8]
    line = read_segy(make(trace={13: ("i", numbers)}))
    assert line.trace_number is not None
    assert line.trace_number.tolist() == numbers
    assert line.trace_number.dtype == np.int64


@pytest.mark.parametrize("numbers", [[1, 2, 2, 3, 4, 5], [5, 4, 3, 2, 1, 0], [1, 1, 1, 1, 1, 1]])
def test_trigger_numbers_that_do_not_increase_are_not_used_and_told(make, numbers: list[int]) -> None:
    """Numbers that stand still or go back say nothing of the wheel."""
    line = read_segy(make(trace={13: ("i", numbers)}))
    assert line.trace_number is None
    assert any("trace numbers (bytes 13-16) not used" in note for note in line.notes)


def clock(
    year: object = 2024, day: object = 61, hour: object = 23, minute: object = 59, second: object = 59
) -> dict:
    return {157: ("h", year), 159: ("h", day), 161: ("h", hour), 163: ("h", minute), 165: ("h", second)}


def test_day_61_of_a_leap_year_is_the_first_of_march(make) -> None:
    """Day of year counts from 1; the standard library is the judge."""
    line = read_segy(make(trace=clock()))
    assert line.time_s is not None
    assert line.time_s[0] == datetime(2024, 3, 1, 23, 59, 59, tzinfo=UTC).timestamp()


def test_milliseconds_refine_the_seconds_over_midnight(make) -> None:
    """Milliseconds since midnight that wrap to 400 belong to the next day, 0.8 s after 23:59:59.6."""
    fine = [86_398_400, 86_398_800, 86_399_200, 86_399_600, 0, 400]
    line = read_segy(make(trace={**clock(), 233: ("i", fine)}))
    assert line.time_s is not None
    np.testing.assert_allclose(np.diff(line.time_s), 0.4, atol=1e-6)
    assert "trace times in milliseconds from bytes 233-236" in line.notes


@pytest.mark.parametrize("wrong", [5, -1, 86_400_000, 86_396_000])
def test_milliseconds_that_disagree_with_the_clock_are_not_used(make, wrong: int) -> None:
    """One trace whose milliseconds lie over 1.5 s from its whole seconds disqualifies the field."""
    fine = [86_399_000] * 5 + [wrong if wrong != 5 else 40_000_000]
    line = read_segy(make(trace={**clock(), 233: ("i", fine)}))
    assert line.time_s is not None
    assert set(line.time_s % 86400) == {86399.0}
    assert not any("milliseconds" in note for note in line.notes)


@pytest.mark.parametrize(
    "wrong",
    [
        {"year": 24},
        {"day": 0},
        {"day": 367},
        {"hour": 24},
        {"minute": 60},
        {"second": -1},
        {"day": 366, "year": 2023},
    ],
)
def test_a_clock_that_cannot_be_is_not_used_and_told(make, wrong: dict) -> None:
    """No such day or hour: no times rather than wrong ones."""
    line = read_segy(make(trace=clock(**wrong)))
    assert line.time_s is None
    assert any("trace times (bytes 157-166) not used: trace 1" in note for note in line.notes)


def test_local_time_is_told(make) -> None:
    """Time basis code 1 is local time (SEG-Y revision 1, bytes 167-168)."""
    assert any("not UTC" in n for n in read_segy(make(trace={**clock(), 167: ("h", 1)})).notes)
    assert not any("not UTC" in n for n in read_segy(make(trace={**clock(), 167: ("h", 4)})).notes)


@pytest.mark.parametrize(("scalar", "factor"), [(-100, 0.01), (10, 10.0), (0, 1.0), (1, 1.0)])
def test_coordinate_scalar_multiplies_or_divides(make, scalar: int, factor: float) -> None:
    """Positive multiplies, negative divides (SEG-Y revision 1, bytes 71-72); 0 counts as 1."""
    trace = {71: ("h", scalar), 181: ("i", 43187720), 185: ("i", 571234560), 73: ("i", 1), 77: ("i", 1)}
    line = read_segy(make(trace=trace))
    assert line.header_xy is not None
    assert line.header_xy.shape == (6, 2)
    np.testing.assert_allclose(line.header_xy, np.tile([43187720 * factor, 571234560 * factor], (6, 1)))


def test_without_mid_point_source_and_group_are_averaged(make) -> None:
    """The mid-point lies halfway between source and group; one alone stands for it."""
    both = {73: ("i", 100), 77: ("i", 10), 81: ("i", 200), 85: ("i", 30)}
    line = read_segy(make(trace=both))
    assert line.header_xy is not None
    assert line.header_xy[0].tolist() == [150.0, 20.0]
    line = read_segy(make(trace={81: ("i", 200), 85: ("i", 30)}))
    assert line.header_xy is not None
    assert line.header_xy[0].tolist() == [200.0, 30.0]
    assert any("group co-ordinates" in note for note in line.notes)


def test_traces_without_coordinates_and_degrees_are_told(make) -> None:
    """Some headers at (0, 0), and units that are not length, both stand in the notes."""
    line = read_segy(make(trace={73: ("i", [0, 0, 5, 5, 5, 5]), 77: ("i", [0, 0, 5, 5, 5, 5]), 89: ("h", 3)}))
    assert "2 of 6 trace headers hold no co-ordinates (0, 0)" in line.notes
    assert "header co-ordinates are in decimal degrees" in line.notes


def test_delay_counts_a_thousand_of_the_interval_unit(make) -> None:
    """Where picoseconds stand for microseconds, nanoseconds stand for milliseconds."""
    assert read_segy(make(trace={109: ("h", -12)})).sample_start_ns == pytest.approx(-12.0)
    assert read_segy(make(trace={109: ("h", 125), 215: ("h", -10)})).sample_start_ns == pytest.approx(12.5)
    assert read_segy(make()).sample_start_ns == 0.0


def test_delay_that_cannot_be_is_ignored_and_told(make) -> None:
    """A delay of 30 microseconds before a 40 ns window is no radar's."""
    line = read_segy(make(trace={109: ("h", 30000)}))
    assert line.sample_start_ns == 0.0
    assert any("30000 ns (bytes 109-110) is not plausible" in note for note in line.notes)


def test_delays_that_differ_are_refused(make) -> None:
    """Traces that start at different times do not line up; the first odd one is named."""
    with pytest.raises(ReadError, match=r"L01\.sgy: trace 5 starts at 9 ns .* start at 7 ns"):
        read_segy(make(trace={109: ("h", [7, 7, 7, 7, 9, 9])}))


def test_absent_milliseconds_near_midnight_are_not_taken_for_midnight(make) -> None:
    """A field of zeros is no time, though 0 lies within 1.5 s of 23:59:59."""
    line = read_segy(make(trace=clock()))
    assert not any("milliseconds" in note for note in line.notes)
