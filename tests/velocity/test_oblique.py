"""Rows of crossings: which points belong together and at what angle."""

import numpy as np

from gridmap.velocity.oblique import match_crossings, match_pairs


def crossings(angle_deg, lines=5, spacing_m=0.5, dip_ns_per_m=0.0):
    """Crossings of one straight target by lines along x, at x = x0 + y tan(angle)."""
    y = spacing_m * np.arange(lines)
    xy = np.stack([2 + y * np.tan(np.radians(angle_deg)), y], axis=1)
    return np.arange(lines), xy, np.tile([1.0, 0.0], (lines, 1)), 12 + dip_ns_per_m * y


def test_angle_of_a_straight_target():
    """Angles from straight across to 50 degrees come back, whichever way the lines were walked."""
    for angle in (0, 20, -35, 50):
        line, xy, direction, time = crossings(angle)
        direction[1::2] *= -1
        row, found = match_crossings(line, xy, direction, time, 1.6)
        assert (row == 0).all()
        np.testing.assert_allclose(found, abs(angle), atol=0.5)


def test_a_falling_drain_is_still_one_row():
    """A target that falls by 1.4 ns a metre (7 percent at 0.1 m/ns) is joined."""
    row, _ = match_crossings(*crossings(10, dip_ns_per_m=1.4), 1.6)
    assert (row == 0).all()


def test_two_targets_at_different_times_are_two_rows():
    """Two parallel targets, 4 ns apart in time, get two numbers."""
    a, b = crossings(10), crossings(-30)
    row, angle = match_crossings(
        np.concatenate([a[0], b[0]]), np.concatenate([a[1], b[1]]), np.concatenate([a[2], b[2]]),
        np.concatenate([a[3], b[3] + 4]), 1.6,
    )  # fmt: skip
    assert len(set(row[:5])) == len(set(row[5:])) == 1
    assert row[0] != row[5]
    np.testing.assert_allclose(angle, np.repeat([10, 30], 5), atol=0.5)


def test_two_lines_are_not_enough():
    """Any two points lie on a straight line, so two crossings stay points."""
    row, angle = match_crossings(*crossings(30, lines=2), 1.6)
    assert (row == -1).all()
    assert np.isnan(angle).all()


def test_crossings_of_lines_walked_across_are_not_mixed():
    """A line at a right angle takes no part in a row of the others."""
    line, xy, direction, time = crossings(10, lines=3)
    direction[1] = [0.0, 1.0]
    row, _ = match_crossings(line, xy, direction, time, 1.6)
    assert (row == -1).all()


def test_a_crossing_beyond_a_gap_joins_the_row_it_prolongs():
    """After three lines without an echo a crossing on the same straight joins; one beside it does not."""
    line, xy, direction, time = crossings(25, lines=8)
    keep = np.array([0, 1, 2, 3, 7])
    row, angle = match_crossings(line[keep], xy[keep], direction[keep], time[keep], 1.6)
    assert (row == 0).all()
    np.testing.assert_allclose(angle, 25, atol=0.5)
    xy[7, 0] += 0.4
    row, angle = match_crossings(line[keep], xy[keep], direction[keep], time[keep], 1.6)
    assert list(row) == [0, 0, 0, 0, -1]
    assert np.isnan(angle[-1])


def test_two_lone_crossings_alike_may_be_one_target():
    """Two crossings on neighbouring lines with the same time and velocity make a pair at their angle."""
    line, xy, direction, time = crossings(30, lines=2)
    row, velocity = np.array([-1, -1]), np.array([0.12, 0.121])
    partner, angle = match_pairs(row, line, xy, direction, time, velocity, 1.6)
    assert list(partner) == [1, 0]
    np.testing.assert_allclose(angle, 30, atol=0.5)
    partner, _ = match_pairs(row, line, xy, direction, time, np.array([0.1, 0.12]), 1.6)
    assert list(partner) == [-1, -1]
    partner, _ = match_pairs(row, line, xy, direction, time + np.array([0, 2.0]), velocity, 1.6)
    assert list(partner) == [-1, -1]
