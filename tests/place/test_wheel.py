"""Lines placed by their wheel, and along polylines."""

from __future__ import annotations

import numpy as np
import pytest

from gridmap.errors import PlaceError
from gridmap.model import Line
from gridmap.place.polyline import place_on_polyline
from gridmap.place.wheel import place_by_wheel, wheel_scale


def line(count: int, number=None) -> Line:
    numbers = None if number is None else np.asarray(number, dtype=np.int64)
    return Line("L1", np.zeros((count, 2), np.float32), 0.2, trace_number=numbers)


def test_the_worked_wheel_of_the_trade_notes():
    """50.00 m read as 49.20 is a factor of 1.01626 (trade.md 2.3, calc)."""
    assert wheel_scale(line(985), 0.05, 50.0) == pytest.approx(50.0 / 49.2)
    assert wheel_scale(line(985), 0.05, 50.0) == pytest.approx(1.01626, abs=5e-6)


def test_a_known_length_overrules_the_nominal_interval():
    """The line ends on its length, and the scale is told."""
    placed, report = place_by_wheel(line(101), (1.0, 0.0), (1.0, 9.0), 0.05, length_m=5.1)
    assert placed.xy_m[-1] == pytest.approx([1.0, 5.1])
    assert report.scale == pytest.approx(1.02)
    assert report.notes == ()
    _, odd = place_by_wheel(line(101), (0, 0), (1, 0), 0.05, length_m=10.0)
    assert "check length_m" in odd.notes[0]


def test_without_a_length_the_nominal_interval_counts_and_is_warned_about():
    """Triggers 1, 2, 4 at 5 cm lie at 0, 5 and 15 cm."""
    placed, report = place_by_wheel(line(3, [1, 2, 4]), (0, 0), (-1, 0), 0.05)
    assert placed.xy_m[:, 0] == pytest.approx([0, -0.05, -0.15])
    assert report.scale is None
    assert "uncalibrated" in report.notes[0]
    assert place_by_wheel(line(3), (0, 0), (1, 0), 0.05, scale=1.02)[1].notes == ()
    with pytest.raises(PlaceError, match="Add one of them"):
        place_by_wheel(line(3), (0, 0), (1, 0), None)
    with pytest.raises(PlaceError, match="no direction"):
        place_by_wheel(line(3), (0, 0), (0, 0), 0.05)


def test_a_polyline_is_followed_round_its_corner():
    """Seven traces over 3 m and 3 m round a corner lie a metre apart along it."""
    placed = place_on_polyline(line(7), [(0, 0), (3, 0), (3, 3)])
    assert placed.xy_m.tolist() == [[0, 0], [1, 0], [2, 0], [3, 0], [3, 1], [3, 2], [3, 3]]
    assert placed.along_m.tolist() == [0, 1, 2, 3, 4, 5, 6]
    ahead = place_on_polyline(line(7), [(0, 0), (3, 0), (3, 3)], offset_along_m=0.5)
    assert ahead.xy_m[3] == pytest.approx([3, 0.5])
    with pytest.raises(PlaceError, match="vertices 2 and 3"):
        place_on_polyline(line(7), [(0, 0), (3, 0), (3, 0)])
