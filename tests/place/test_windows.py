"""Compiled sums over windows against plain NumPy and SciPy."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from gridmap.place.windows import best_steady_drift, box_widths, running_sums, window_taps, windowed_products


@pytest.mark.parametrize("sd", [3.0, 8.0, 15.5, 60.0])
def test_running_sums_are_nearly_gaussian(sd):
    """Three running means tend to the quadratic B-spline, whose peak of 0.75 is 6 % below the Gaussian's 0.798.

    Unser (1999), Splines: a perfect fit for signal and image processing [memory]; the filter is SciPy's.
    """
    spike = np.zeros((1001, 2), np.float32)
    spike[500, 0] = 1.0
    mean = running_sums(spike, box_widths(sd))
    wanted = gaussian_filter1d(spike[:, 0].astype(float), sd, mode="constant")
    assert np.abs(mean[:, 0] - wanted).max() < 0.061 * wanted.max()
    assert mean[:, 0].sum() == pytest.approx(1.0, abs=1e-4)
    x = np.arange(1001) - 500
    assert np.sqrt((mean[:, 0] * x * x).sum()) == pytest.approx(sd, rel=0.06)
    assert not mean[:, 1].any()


def test_products_are_sums_over_windows():
    """Products, energies and share seen equal the same sums written in NumPy, for every lag."""
    rng = np.random.default_rng(1)
    lines = rng.normal(size=(3, 47, 14)).astype(np.float32)
    seen = np.ones((3, 47), bool)
    seen[0, :6] = seen[1, 40:] = False
    lines[~seen] = 0.0
    every, lags, parts = 5, 4, 3
    taps = window_taps(8.0, every)
    sums = windowed_products(lines, seen, lags, parts, every, taps)
    block = (np.arange(47) + every // 2) // every
    width = 14 // parts
    cut = lines[:, :, : width * parts].reshape(3, 47, parts, width)
    for i in range(2):
        for k, lag in enumerate(range(-lags, lags + 1)):
            u = np.arange(max(0, -lag), 47 - max(0, lag))
            both = (seen[i, u] & seen[i + 1, u + lag]).astype(float)[:, None]
            a, b = cut[i, u], cut[i + 1, u + lag]
            for kind, each in enumerate(
                (
                    (a * b).sum(2),
                    (a * a).sum(2) * both,
                    (b * b).sum(2) * both,
                    both.repeat(parts, axis=1),
                )
            ):
                blocks = np.zeros((10, parts))
                np.add.at(blocks, block[u], each)
                half = len(taps) // 2
                wanted = np.array([np.convolve(blocks[:, p], taps)[half : half + 10] for p in range(parts)]).T
                assert sums[i, kind, k] == pytest.approx(wanted, abs=1e-4)


def test_best_drift_is_the_best_of_all():
    """The square of the mean over members at the best drift, negative ones as nothing, as a loop would find it."""
    rng = np.random.default_rng(2)
    tables = rng.normal(size=(3, 21, 4, 2)).astype(np.float32)
    who = np.array([[0, 1], [1, 2]])
    shifts = rng.integers(3, 18, size=(2, 5, 2, 4))
    got = best_steady_drift(tables, who, shifts, np.array([1, -1]), 3)
    for j in range(2):
        for s in range(5):
            for w in range(4):
                means = [
                    0.5
                    * (
                        tables[who[j, 0], shifts[j, s, 0, w] + d, w]
                        + tables[who[j, 1], shifts[j, s, 1, w] - d, w]
                    )
                    for d in range(-3, 4)
                ]
                wanted = (np.maximum(np.max(means, axis=0), 0) ** 2).sum()
                assert got[j, s, w] == pytest.approx(wanted, abs=1e-5)
