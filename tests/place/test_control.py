"""The similarity from control points: what it recovers, what it warns of, what it refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.errors import PlaceError
from gridmap.model import Similarity
from gridmap.place.control import fit_similarity
from gridmap.site.records import ControlPoint

SQUARE = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 15.0], [0.0, 15.0]])


def similarity(
    turn_deg: float, scale: float = 1.0, e0: float = 563412.364, n0: float = 5934120.852
) -> Similarity:
    turn = math.radians(turn_deg)
    return Similarity(e0, n0, scale * math.cos(turn), scale * math.sin(turn))


def points(xy, en) -> list[ControlPoint]:
    return [
        ControlPoint("ABCDEFGHIJ"[k], *map(float, p), *map(float, q))
        for k, (p, q) in enumerate(zip(xy, en, strict=True))
    ]


def refusal(control, limit_cm: float = 5.0) -> str:
    with pytest.raises(PlaceError) as caught:
        fit_similarity(control, limit_cm)
    assert "\n" not in str(caught.value)
    return str(caught.value)


turns = st.floats(-180, 180)
scales = st.floats(0.991, 1.009)
shifts = st.floats(-1e6, 1e7)


@given(turn=turns, scale=scales, e0=shifts, n0=shifts)
def test_any_similarity_is_found_again(turn, scale, e0, n0):
    """Points moved by a similarity give back its four numbers, with residuals of nothing."""
    true = similarity(turn, scale, e0, n0)
    fit = fit_similarity(points(SQUARE, true.to_map(SQUARE)))
    assert fit.transform.a == pytest.approx(true.a, abs=1e-8)
    assert fit.transform.b == pytest.approx(true.b, abs=1e-8)
    assert fit.transform.to_map(SQUARE) == pytest.approx(true.to_map(SQUARE), abs=1e-6)
    assert fit.rms_m < 1e-6
    assert fit.warnings == ()


@given(turn=turns, noise=st.lists(st.floats(-0.03, 0.03), min_size=8, max_size=8))
def test_residuals_do_not_care_which_way_the_map_is_turned(turn, noise):
    """Turning all map points together turns the residuals and changes none of their lengths."""
    en = SQUARE + np.reshape(noise, (4, 2))
    plain = fit_similarity(points(SQUARE, en))
    turned = fit_similarity(points(SQUARE, similarity(turn, 1.0, 5e5, 5e6).to_map(en)))
    assert np.hypot(*turned.residuals_m.T) == pytest.approx(np.hypot(*plain.residuals_m.T), abs=1e-7)
    assert turned.rms_m == pytest.approx(plain.rms_m, abs=1e-7)


@given(turn=turns, scale=scales, x=st.floats(-1e3, 1e3), y=st.floats(-1e3, 1e3))
def test_there_and_back_again(turn, scale, x, y):
    """A place taken to the map and back is the same place."""
    fit = fit_similarity(points(SQUARE, similarity(turn, scale).to_map(SQUARE)))
    xy = np.array([[x, y]])
    assert fit.transform.to_local(fit.transform.to_map(xy)) == pytest.approx(xy, abs=1e-6)


@given(noise=st.lists(st.floats(-0.03, 0.03), min_size=8, max_size=8))
def test_the_fit_is_the_least_squares_of_a_general_solver(noise):
    """The closed form agrees with the design matrix solved by numpy.linalg.lstsq."""
    en = similarity(23.5).to_map(SQUARE) - [563412.0, 5934120.0] + np.reshape(noise, (4, 2))
    x, y = SQUARE.T
    one, none = np.ones(4), np.zeros(4)
    design = np.vstack([np.stack([one, none, x, -y], axis=1), np.stack([none, one, y, x], axis=1)])
    expected = np.linalg.lstsq(design, en.T.ravel(), rcond=None)[0]
    t = fit_similarity(points(SQUARE, en)).transform
    assert [t.e0_m, t.n0_m, t.a, t.b] == pytest.approx(expected, abs=1e-9)


def test_residuals_are_given_minus_fitted():
    """A point that was measured too far east has a residual to the east, and residuals sum to nothing."""
    en = SQUARE.copy()
    en[2, 0] += 0.04
    fit = fit_similarity(points(SQUARE, en))
    assert fit.residuals_m[2, 0] > 0.01
    assert fit.residuals_m.sum(axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)
    assert fit.rms_m == pytest.approx(math.sqrt((fit.residuals_m**2).sum() / 4))
    assert fit.names == ("A", "B", "C", "D")


def test_a_point_above_the_limit_is_named_in_centimetres():
    """A residual above the limit is warned about with its point, and the point to look at first is told."""
    en = similarity(40).to_map(SQUARE)
    en[1] += [0.0, 0.20]
    fit = fit_similarity(points(SQUARE, en), limit_cm=5)
    length_cm = 100 * math.hypot(*fit.residuals_m[1])
    assert f"control point B misses its place by {length_cm:.1f} cm (limit 5 cm)" in fit.warnings[0]
    assert "without control point B all others fit" in fit.warnings[-1]
    assert fit_similarity(points(SQUARE, en), limit_cm=50).warnings == ()


def test_two_points_are_no_check():
    """Two points always fit, and the person is told that this proves nothing."""
    fit = fit_similarity(points(SQUARE[:2], similarity(10).to_map(SQUARE[:2])))
    assert fit.rms_m == pytest.approx(0, abs=1e-8)
    assert "check nothing" in fit.warnings[0]


def test_points_in_one_row_do_not_show_the_side():
    """Three pegs along the baseline fit a mirrored grid as well, so a fourth is asked for."""
    row = np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0]])
    assert "in one row" in fit_similarity(points(row, similarity(10).to_map(row))).warnings[0]


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_points_are_refused(count):
    """No turn can be told from one point."""
    assert f"{count} control point" in refusal(points(SQUARE[:count], SQUARE[:count]))


def test_points_in_one_place_are_refused():
    """Two points in one place are named, in the grid or in the map."""
    en = similarity(5).to_map(SQUARE)
    xy = SQUARE.copy()
    xy[3] = xy[1]
    assert "B and D have the same place in the grid" in refusal(points(xy, en))
    en[2] = en[0]
    assert "A and C have the same place in the map" in refusal(points(SQUARE, en))


def test_numbers_that_are_none_are_refused():
    """A point without a finite number is named."""
    en = SQUARE.copy()
    en[2, 1] = np.nan
    assert "control point C holds no finite number" in refusal(points(SQUARE, en))


@pytest.mark.parametrize("keep", [3, 4])
@pytest.mark.parametrize("turn", [0, 37, 200])
def test_a_mirrored_grid_is_refused(keep, turn):
    """Easting and northing swapped, x and y swapped, or y to the right: all are one mirror."""
    xy = SQUARE[:keep]
    en = similarity(turn).to_map(xy)
    rng = np.random.default_rng(4)
    noisy = en + rng.normal(0, 0.01, en.shape)
    for control in (points(xy, noisy[:, ::-1]), points(xy[:, ::-1], noisy), points(xy * [1, -1], noisy)):
        message = refusal(control)
        assert "mirrored grid" in message
        assert ", ".join("ABCD"[:keep]) in message


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1 / 0.3048, "local grid looks as if it were in feet"),
        (0.3048, "map co-ordinates look as if they were in feet"),
        (1200 / 3937 * 0.9999, "map co-ordinates look as if they were in feet"),
        (100.0, "local grid looks as if it were in centimetres"),
        (1000.0, "local grid looks as if it were in millimetres"),
        (1.02, "mistyped"),
    ],
)
def test_other_units_and_other_scales_are_refused(factor, words):
    """A scale more than 1 % off is refused, and a known unit is named (1 ft = 0.3048 m exactly)."""
    message = refusal(points(SQUARE * factor, similarity(12).to_map(SQUARE)))
    assert "more than 1 % off" in message
    assert words in message
    assert f"{1 / factor:.4f} m" in message


def test_a_scale_of_nearly_one_percent_is_taken():
    """Tape stretch and map projection pass."""
    assert fit_similarity(
        points(SQUARE, similarity(12, 1.0099).to_map(SQUARE))
    ).transform.scale == pytest.approx(1.0099)
    refusal(points(SQUARE, similarity(12, 1.0101).to_map(SQUARE)))


@pytest.mark.parametrize("keep", [3, 4])
def test_one_mistyped_point_is_found(keep):
    """Where one number is off by ten metres, the point without which the others fit is named."""
    en = similarity(30).to_map(SQUARE[:keep])
    en[1, 0] += 10.0
    assert "Without point B the others fit" in refusal(points(SQUARE[:keep], en))
