"""Compiled medians against numpy's."""

import numpy as np
import pytest

from gridmap.condition.median import median_trace, moving_median

RNG = np.random.default_rng(1)


@pytest.mark.parametrize("count", [1, 2, 3, 8, 97, 250])
def test_median_trace_is_numpys(count):
    """numpy.median along the traces is the reference, ties and even counts included."""
    traces = RNG.integers(-5, 6, size=(count, 40)).astype(np.float32)
    assert (median_trace(traces, 1000) == np.median(traces, axis=0)).all()


def test_of_many_traces_every_nth_counts():
    """600 traces, 250 wanted: every second."""
    traces = RNG.normal(size=(600, 8)).astype(np.float32)
    assert (median_trace(traces, 250) == np.median(traces[::2], axis=0)).all()


@pytest.mark.parametrize(("count", "half"), [(1, 6), (4, 2), (5, 2), (30, 6), (12, 6)])
def test_moving_median_is_numpys_over_each_window(count, half):
    """The window keeps its length and leans inward at the ends."""
    rows = RNG.normal(size=(count, 25)).astype(np.float32)
    wide = min(2 * half + 1, count)
    for i, got in enumerate(moving_median(rows, half)):
        first = int(np.clip(i - half, 0, count - wide))
        assert got == pytest.approx(np.median(rows[first : first + wide], axis=0))


def test_input_is_left_alone():
    """Pure functions."""
    rows = RNG.normal(size=(20, 9)).astype(np.float32)
    before = rows.copy()
    median_trace(rows, 100)
    moving_median(rows, 3)
    assert (rows == before).all()
