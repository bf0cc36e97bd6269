"""Interpolation weights: exact where they must be, and better than triangles where it counts."""

import numpy as np
import pytest
from scipy.interpolate import griddata

from gridmap.model import Grid
from gridmap.volume.weights import cell_means, local_kriging

RNG = np.random.default_rng(2)
GRID = Grid(0.0, 0.0, 0.05, 61, 61)


def walked(spacing=0.25, step=0.02):
    x = np.arange(0, 3.001, step)
    return np.concatenate([np.stack([x, np.full_like(x, y)], axis=1) for y in np.arange(0, 3.001, spacing)])


def waves(xy, wavelength, count=30, seed=4):
    """Plane waves of one wavelength in all directions, as in a study of interpolation error (speed.md)."""
    rng = np.random.default_rng(seed)
    angle, phase = rng.uniform(0, 2 * np.pi, (2, count))
    k = 2 * np.pi / wavelength
    out = sum(
        np.cos(k * (xy[..., 0] * np.cos(a) + xy[..., 1] * np.sin(a)) + p)
        for a, p in zip(angle, phase, strict=True)
    )
    return out / np.sqrt(count / 2)


def cells():
    return np.stack(np.meshgrid(GRID.x_m(), GRID.y_m()), axis=-1)


def krige(xy, values, range_m=0.2, nugget=0.01, blank_m=0.3):
    point, means = cell_means(xy, GRID)
    return local_kriging(point, GRID, range_m, nugget, blank_m).apply(means.apply(values))


def test_rows_sum_to_one_so_a_level_stays_level():
    """Ordinary kriging has no bias: a constant comes back as itself (Matheron 1963)."""
    xy = walked()
    assert krige(xy, np.full((len(xy), 2), 3.5, np.float32)) == pytest.approx(3.5, abs=1e-4)


def test_no_worse_than_triangles_on_random_ground():
    """RMS error at 0.6 m wavelength and 0.25 m lines is below scipy.interpolate.griddata's (reference library)."""
    xy = walked()
    truth = waves(cells(), 0.6)
    got = krige(xy, waves(xy, 0.6)[:, None].astype(np.float32))[:, 0].reshape(GRID.shape)
    linear = griddata(xy, waves(xy, 0.6), cells(), method="linear")
    inner = (slice(5, -5), slice(5, -5))
    ours = np.sqrt(np.mean((got - truth)[inner] ** 2))
    theirs = np.sqrt(np.nanmean((linear - truth)[inner] ** 2))
    assert ours < 0.75 * theirs


def test_all_samples_at_once_equals_one_by_one():
    """The product over 5 samples is the same as 5 products."""
    xy = walked()
    values = RNG.normal(size=(len(xy), 5)).astype(np.float32)
    together = krige(xy, values)
    apart = np.concatenate([krige(xy, values[:, [i]]) for i in range(5)], axis=1)
    assert together == pytest.approx(apart, abs=1e-5)


def test_cells_far_from_any_trace_are_blank():
    """Beyond the limit there is no value: nothing is invented."""
    xy = walked()
    xy = xy[xy[:, 1] < 1.6]
    got = krige(xy, np.ones((len(xy), 1), np.float32), blank_m=0.2)[:, 0].reshape(GRID.shape)
    far = GRID.y_m() > xy[:, 1].max() + 0.21
    assert np.isnan(got[far]).all()
    assert np.isfinite(got[GRID.y_m() <= xy[:, 1].max()]).all()


def test_neighbours_come_from_both_sides():
    """Half-way between two lines the weight is shared evenly: a slope across lines comes back, no streaks."""
    xy = walked()
    got = krige(xy, xy[:, [1]].astype(np.float32))[:, 0].reshape(GRID.shape)
    assert got[10:50, 30] == pytest.approx(GRID.y_m()[10:50], abs=0.01)


def test_cell_means_average_what_shares_a_cell():
    """Three traces in one cell: mean position and mean value."""
    xy = np.array([[0.49, 0.5], [0.51, 0.5], [0.50, 0.51], [2.0, 2.0]])
    point, means = cell_means(xy, GRID)
    assert point[0] == pytest.approx([0.5, 0.50333], abs=1e-4)
    assert means.apply(np.array([[1.0], [2.0], [6.0], [9.0]], np.float32))[:, 0] == pytest.approx([3.0, 9.0])


def test_no_trace_inside_gives_no_points():
    """All traces outside the grid: nothing to krige from."""
    point, means = cell_means(np.array([[50.0, 50.0]]), GRID)
    assert len(point) == 0
    assert len(means.start) == 1
