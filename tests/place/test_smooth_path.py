"""The smooth path through scattered fixes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import make_smoothing_spline

from gridmap.place.smooth_path import fit_path


def noisy(shape, count=60, sd=0.01, seed=1):
    rng = np.random.default_rng(seed)
    s = np.sort(rng.uniform(0, 10, count))
    true = shape(s)
    return s, true + rng.normal(0, sd, true.shape), true, np.full(count, sd)


def line(s):
    return np.column_stack([s, 0.3 * s])


def bend(s):
    return np.column_stack([10 * np.sin(s / 5), 10 * np.cos(s / 5)])


def test_the_path_is_the_cubic_smoothing_spline():
    """For one roughness the path is SciPy's smoothing spline with the penalty that the theory gives (Wahba 1978)."""
    s, place, _, sd = noisy(bend)
    roughness = 1e-3
    ours, _ = fit_path(s, place, sd, roughness=roughness, nearest_m=0.0, outlier_sd=99.0)
    points = np.linspace(s[0], s[-1], 200)
    for axis in (0, 1):
        theirs = make_smoothing_spline(s, place[:, axis], w=1 / sd**2, lam=1 / roughness)
        assert ours.at(points)[:, axis] == pytest.approx(theirs(points), abs=2e-5)


def test_deviations_are_those_of_the_dense_solution():
    """Deviations of the path equal those of Gaussian process regression written out in full matrices."""
    s, place, _, sd = noisy(line, 12)
    stretch = (np.arange(12) >= 6).astype(np.int64)
    shared = np.array([0.2, 0.05])
    q = 1e-3
    path, _ = fit_path(
        s, place, sd, stretch=stretch, stretch_sd_m=shared, roughness=q, nearest_m=0.0, outlier_sd=99
    )
    points = np.concatenate([np.linspace(s[0], s[-1], 40), [s[0] - 1, s[-1] + 2]])

    def kernel(a, b):  # integrated Wiener process from s0, with a wide start in place and slope
        a, b = a[:, None] - (s[0] - 1.5), b[None, :] - (s[0] - 1.5)
        low, high = np.minimum(a, b), np.maximum(a, b)
        return q * (low**2 * high / 2 - low**3 / 6) + 1e4 + 1e2 * a * b

    noise = np.diag(sd**2) + (stretch[:, None] == stretch) * (shared[stretch] ** 2)[:, None]
    gain = np.linalg.solve(kernel(s, s) + noise, kernel(s, points))
    variance = np.diag(kernel(points, points)) - (kernel(s, points) * gain).sum(axis=0)
    assert path.sd_at(points) == pytest.approx(np.sqrt(variance), rel=2e-2)
    middle = place.mean(axis=0)
    assert path.at(points) == pytest.approx(gain.T @ (place - middle) + middle, abs=2e-3)


@pytest.mark.parametrize(("shape", "share"), [(line, 0.35), (bend, 0.6)])
def test_the_path_is_nearer_the_truth_than_the_fixes_and_says_how_near(shape, share):
    """Over 30 draws the path cuts the scatter of the fixes, and its deviation tells its error within a third.

    A straight line known to be straight would leave sqrt(2 / 60) = 0.18 of it; a bend of 10 m radius leaves more.
    """
    errors, told = [], []
    for seed in range(30):
        s, place, true, sd = noisy(shape, seed=seed)
        path, good = fit_path(s, place, sd)
        assert good.all()
        errors.append(np.sqrt(((path.at(s) - true) ** 2).mean()))
        told.append(np.sqrt((path.sd_at(s) ** 2).mean()))
    assert np.sqrt(np.mean(np.square(errors))) < share * 0.01
    assert np.sqrt(np.mean(np.square(told))) == pytest.approx(np.sqrt(np.mean(np.square(errors))), rel=0.33)


def test_outliers_are_found_alone_and_in_a_run():
    """Single fixes metres off and a run of five half a metre off are rejected, and no others."""
    s, place, true, sd = noisy(bend)
    wrong = np.array([3, 20, 40, 41, 42, 43, 44])
    place[wrong[:2]] += [[5.0, -30.0], [0.4, 0.3]]
    place[wrong[2:]] += 0.5
    path, good = fit_path(s, place, sd)
    assert np.flatnonzero(~good).tolist() == wrong.tolist()
    assert np.abs(path.at(s) - true).max() < 0.03


def test_an_error_that_a_stretch_shares_keeps_its_shape_only():
    """A float run 0.2 m off beside a fixed run does not draw the path off, but still shows its course."""
    s, place, true, sd = noisy(line)
    stretch = (s > 5).astype(np.int64)
    place[stretch == 1] += [0.2, -0.15]
    path, good = fit_path(s, place, sd, stretch=stretch, stretch_sd_m=np.array([0.0, 0.3]))
    assert good.all()
    assert np.abs(path.at(s) - true).max() < 0.04
    assert path.shift[1] == pytest.approx([0.2, -0.15], abs=0.04)


def test_fixes_at_one_place_are_no_path():
    """Standing still the whole time is refused, not divided by zero."""
    with pytest.raises(ValueError, match="fewer than two"):
        fit_path(np.zeros(5), np.zeros((5, 2)), np.full(5, 0.01))


def test_the_slope_is_the_derivative_of_the_path():
    """Slopes agree with finite differences of the path."""
    s, place, _, sd = noisy(bend)
    path, _ = fit_path(s, place, sd)
    points = np.linspace(s[0] + 0.1, s[-1] - 0.1, 50)
    step = 1e-5
    slope = (path.at(points + step) - path.at(points - step)) / (2 * step)
    assert path.slope_at(points) == pytest.approx(slope, abs=1e-4)
