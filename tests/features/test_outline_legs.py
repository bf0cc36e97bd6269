"""Footings painted cell by cell are taken apart into their straight legs."""

import numpy as np

from gridmap.features.outline_legs import POOR_FILL, fill, legs_of
from gridmap.features.outline_regions import Region


def region(inside):
    return Region(0, 0, 0, inside, 5.0, 1.0)


def test_two_walls_at_a_right_angle_are_two_legs():
    """An L of two walls 12 cells thick fills little of its rectangle."""
    inside = np.zeros((90, 80), bool)
    inside[5:85, 5:17] = True
    inside[5:17, 5:75] = True
    assert fill(region(inside)) < POOR_FILL
    legs = legs_of(region(inside), 12)
    assert len(legs) == 2
    spans = sorted(tuple(int(np.ptp(axis)) + 1 for axis in np.nonzero(leg.inside)) for leg in legs)
    assert spans[0][1] > 50 and spans[0][0] <= 14
    assert spans[1][0] >= 76 and spans[1][1] <= 14
    assert all(not (leg.inside & leg.other).any() for leg in legs)


def test_four_walls_of_a_room_are_four_legs():
    """A closed rectangle of walls has four."""
    inside = np.zeros((100, 80), bool)
    inside[5:95, 5:75] = True
    inside[15:85, 15:65] = False
    assert len(legs_of(region(inside), 10)) == 4


def test_slab_is_one_piece():
    """A full rectangle fills its rectangle at any turn."""
    y, x = np.mgrid[:80, :80] - 40.0
    turned = (np.abs(0.8 * x + 0.6 * y) < 25) & (np.abs(0.8 * y - 0.6 * x) < 12)
    assert fill(region(turned)) > 0.85  # turns are tried five degrees apart
