"""Lines placed by fiducial marks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridmap.errors import PlaceError
from gridmap.model import Line
from gridmap.place.fiducial import match_marks, place_by_distances, place_by_marks


def line(count: int, number=None) -> Line:
    numbers = None if number is None else np.asarray(number, dtype=np.int64)
    return Line("L1", np.zeros((count, 2), np.float32), 0.2, trace_number=numbers)


def test_marked_traces_lie_exactly_on_their_marks():
    """A wheel that slips in the second half is stretched there only (trade.md 2.3: stretch piecewise between marks)."""
    marks = [(1, 0.0, 0.0), (101, 5.0, 0.0), (181, 10.0, 0.0)]
    placed, warnings = place_by_marks(line(181), marks)
    assert placed.xy_m[[0, 100, 180], 0].tolist() == [0.0, 5.0, 10.0]
    assert placed.xy_m[50, 0] == pytest.approx(2.5)
    assert placed.xy_m[140, 0] == pytest.approx(7.5)
    assert placed.along_m[-1] == 10.0
    assert warnings == ()


def test_dropped_traces_between_marks_leave_a_gap():
    """Trigger numbers, not trace numbers, share out the way."""
    placed, _ = place_by_marks(line(4, [1, 2, 4, 5]), [(1, 0, 0), (4, 4, 0)])
    assert placed.xy_m[:, 0].tolist() == [0.0, 1.0, 3.0, 4.0]


def test_traces_beyond_the_marks_go_on_as_beside_them():
    """Before the first and after the last mark the interval and the direction are kept."""
    placed, _ = place_by_marks(line(7), [(3, 1, 1), (5, 1, 3)])
    assert placed.xy_m.tolist() == [[1, y] for y in (-1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0)]
    assert placed.along_m.tolist() == [0, 1, 2, 3, 4, 5, 6]


def test_a_missed_and_a_double_mark_show_in_the_interval():
    """The notebook counts a mark too few or too many: the stretch has half or several times the usual interval."""
    missed = [(1, 0, 0), (101, 5, 0), (301, 10, 0), (401, 15, 0)]
    _, warnings = place_by_marks(line(401), missed)
    assert len(warnings) == 1
    assert "traces 101 and 301" in warnings[0]
    assert "missed" in warnings[0]
    double = [(1, 0, 0), (101, 5, 0), (106, 10, 0), (206, 15, 0)]
    _, warnings = place_by_marks(line(206), double)
    assert "traces 101 and 106" in warnings[0]
    assert "twice" in warnings[0]


@pytest.mark.parametrize(
    ("marks", "said"),
    [
        ([(1, 0, 0)], "two are the least"),
        ([(0, 0, 0), (5, 1, 0)], "no trace 0"),
        ([(1, 0, 0), (12, 1, 0)], "no trace 12"),
        ([(1.5, 0, 0), (5, 1, 0)], "no trace 1.5"),
        ([(1, 0, 0), (1, 1, 0), (5, 2, 0)], "marks at two places"),
        ([(1, 0, 0), (5, 0, 0)], "have one place"),
    ],
)
def test_marks_that_cannot_be_right_are_refused(marks, said):
    """Each names the line and the trace."""
    with pytest.raises(PlaceError, match=said) as caught:
        place_by_marks(line(10), marks)
    assert "line L1" in str(caught.value)


def test_distances_run_from_the_start_towards_a_point():
    """Marks at 0 and 5 m of a 3-4-5 line."""
    placed, _ = place_by_distances(line(3), [(1, 0.0), (3, 5.0)], (1.0, 1.0), (4.0, 5.0))
    assert placed.xy_m == pytest.approx(np.array([[1, 1], [2.5, 3], [4, 5]]))
    with pytest.raises(PlaceError, match="behind"):
        place_by_distances(line(3), [(1, 5.0), (2, 4.0), (3, 6.0)], (0, 0), (1, 0))


@given(
    seed=st.integers(0, 10_000),
    count=st.integers(6, 16),
    missing=st.sets(st.integers(1, 20), max_size=2),
    double=st.sets(st.integers(0, 20), max_size=2),
)
@settings(max_examples=150, deadline=None)
def test_missing_and_double_marks_are_found(seed, count, missing, double):
    """Marks every 5 m on a wheel with 2 % scatter: those left out and those pressed twice are named, no others."""
    rng = np.random.default_rng(seed)
    steps = 100 * (1 + 0.02 * rng.standard_normal(count))
    at = 1 + np.concatenate([[0], np.cumsum(steps)]).round().astype(int)
    missing = {m for m in missing if m < count} - {0, count}
    kept = [k for k in range(count + 1) if k not in missing]
    twice = {kept[d % len(kept)] for d in double}
    rows = sorted([(at[k], False) for k in kept] + [(at[k] + 3, True) for k in twice])
    marks = [trace for trace, _ in rows]
    match = match_marks(np.array(marks), marks, [5.0 * k for k in range(count + 1)])
    assert match.missing_m == tuple(5.0 * k for k in sorted(missing))
    assert len(match.double) == len(twice)
    for trace in match.double:  # of the two of a pair either may be taken
        assert min(abs(trace - at[k]) for k in twice) <= 3
    assert (
        np.abs(np.array(match.distance_m) / 5.0 - [np.argmin(np.abs(at - t)) for t in match.trace]).max() == 0
    )
