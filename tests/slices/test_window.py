"""Windows of depth and time."""

import numpy as np
import pytest

from gridmap.model import VelocityModel, Window
from gridmap.slices.reduce import window_rms
from gridmap.slices.window import depth_windows, slice_thickness_m, time_windows

MODEL = VelocityModel.constant(0.1, 0.004, "")


def test_slice_is_never_thinner_than_two_nanoseconds():
    """No thinner than 2 ns (University of Denver, SERDP test-site study): 0.10 m at 0.1 m/ns."""
    assert slice_thickness_m(0.1, 900.0) == pytest.approx(0.10)


def test_slice_is_a_quarter_wavelength_where_that_is_more():
    """100 MHz at 0.1 m/ns: wavelength 1 m, quarter 0.25 m (GPG, Survey), rounded up to 0.30."""
    assert slice_thickness_m(0.1, 100.0) == pytest.approx(0.30)


def test_windows_overlap_by_half_and_end_above_the_limit():
    """0.1 m thick with half overlap: every 0.05 m; times follow d = v t / 2."""
    windows = depth_windows(1.0, 0.1, 0.5, MODEL)
    assert [w.top_m for w in windows[:3]] == pytest.approx([0.0, 0.05, 0.1])
    assert windows[-1].base_m == pytest.approx(1.0)
    assert windows[2].base_ns == pytest.approx(4.0)


def test_names_sort_by_depth():
    """File names sort as depths do."""
    stems = [w.stem for w in depth_windows(12.0, 0.5, 0.5, MODEL)]
    assert stems == sorted(stems)
    times = [w.stem for w in time_windows(120.0, 2.0, 0.5, MODEL)]
    assert times == sorted(times)


def test_rms_of_a_window():
    """3 and 4 in the window: root of 12.5; NaN stays."""
    values = np.array([[1.0], [3.0], [4.0], [9.0]], np.float32)
    got = window_rms(values, np.array([0.0, 0.1, 0.2, 0.3]), [Window("depth", 0.1, 0.2, 0, 0)])
    assert got[0, 0] == pytest.approx(np.sqrt(12.5))
    values[1] = np.nan
    assert np.isnan(
        window_rms(values, np.array([0.0, 0.1, 0.2, 0.3]), [Window("depth", 0.1, 0.2, 0, 0)])[0, 0]
    )
