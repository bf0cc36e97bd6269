"""Points to set out; distances worked out by hand."""

import numpy as np
import pytest

from gridmap.features.ground import Ground
from gridmap.features.interpret import interpret
from gridmap.features.stakes import stakes
from gridmap.model import Features, LinearFeature, OutlineFeature, Similarity

NORTHWARDS = Similarity(500_000.0, 5_400_000.0, 0.0, 1.0)  # local x points north


def told(**found):
    return interpret(Features(**found), (), NORTHWARDS, Ground(None, [], 0.1, None, 400.0, 0.2))


def bent(points):
    return LinearFeature(np.array(points, float), 0.04, None, 5.0, 0.9, 4, "same", "n")


def test_ends_bends_and_every_five_metres():
    """8 m along x, then 4 m along y, falling 0.1 m a metre: ends at 0 and 12, bend at 8, 5 and 10 m between."""
    way = [[x, 0.0, 0.5 + 0.1 * x] for x in np.linspace(0, 8, 41)]
    way += [[8.0, y, 1.3 + 0.1 * y] for y in np.linspace(0.2, 4, 20)]
    got = stakes(told(linear=(bent(way),)), NORTHWARDS)
    assert [s.place for s in got] == ["end", "between", "bend", "between", "end"]
    assert [s.name for s in got] == ["L1-1", "L1-2", "L1-3", "L1-4", "L1-5"]
    assert [s.depth_m for s in got] == pytest.approx([0.5, 1.0, 1.3, 1.5, 1.7])
    assert (got[2].east_m, got[2].north_m) == pytest.approx((500_000.0, 5_400_008.0))
    assert (got[3].east_m, got[3].north_m) == pytest.approx((499_998.0, 5_400_008.0))


def test_a_wandering_trace_has_no_bends_and_points_near_an_end_are_left_out():
    """Straight to 5 cm over 5.3 m: two ends; the point at 5 m is nearer than half a metre to the end."""
    x = np.linspace(0, 5.3, 27)
    got = stakes(told(linear=(bent(np.column_stack([x, 0.05 * np.sin(3 * x), 0 * x + 1])),)), NORTHWARDS)
    assert [s.place for s in got] == ["end", "end"]


def test_an_area_has_its_corners():
    """A box of 2 by 1 m has four corners at the depth of its top, and none twice."""
    box = OutlineFeature(np.array([[0, 0], [2, 0], [2, 1], [0, 1.0]]), 0.7, 0.05, None, 2, 1, 0, 9, 0.9)
    got = stakes(told(outlines=(box,)), NORTHWARDS)
    assert [s.place for s in got] == ["corner"] * 4
    assert {(round(s.east_m - 500_000, 3), round(s.north_m - 5_400_000, 3)) for s in got} == {
        (0, 0), (0, 2), (-1, 2), (-1, 0),
    }  # fmt: skip
    assert all(s.depth_m == 0.7 for s in got)
