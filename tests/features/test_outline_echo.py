"""Tops and bases timed in mean traces made from textbook pulses."""

import numpy as np
import pytest

from gridmap.features.outline_echo import read_echo

INTERVAL_NS, PERIOD_NS = 0.2, 1e3 / 300
TIME_NS = INTERVAL_NS * np.arange(300)


def ricker(at_ns, ghz=0.3):
    """Ricker (1953), as in any textbook."""
    a = (np.pi * ghz * (TIME_NS - at_ns)) ** 2
    return (1 - 2 * a) * np.exp(-a)


def noisy(trace, seed=0):
    return (trace + 0.02 * np.random.default_rng(seed).normal(size=len(trace))).astype(np.float32)


def test_single_echo_is_timed_at_its_middle():
    """A zero-phase pulse from a mirror peaks when the mirror echoes."""
    echo = read_echo(noisy(-ricker(12.34)), INTERVAL_NS, 12.9, PERIOD_NS)
    assert echo.top_ns == pytest.approx(12.34, abs=0.03)
    assert echo.base_ns is None


def test_faces_of_a_thin_slab_are_parted():
    """A slab of 0.12 m and permittivity 5 is crossed and recrossed in 1.79 ns; its faces echo with opposite signs."""
    apart = 2 * 0.12 * np.sqrt(5.0) / 0.299792458
    echo = read_echo(noisy(ricker(10.0) - 0.9 * ricker(10.0 + apart)), INTERVAL_NS, 10.9, PERIOD_NS)
    assert echo.top_ns == pytest.approx(10.0, abs=0.2)
    assert echo.base_ns is not None
    assert echo.base_ns - echo.top_ns == pytest.approx(apart, abs=0.25)


def test_base_far_below_is_found_and_a_repeat_is_no_base():
    """A wave travels down and up twice in twice the time: that echo tells nothing of a base."""
    base = read_echo(noisy(ricker(9.0) - 0.5 * ricker(21.0)), INTERVAL_NS, 9.0, PERIOD_NS)
    repeat = read_echo(noisy(ricker(9.0) + 0.5 * ricker(18.0)), INTERVAL_NS, 9.0, PERIOD_NS)
    assert base.base_ns == pytest.approx(21.0, abs=0.2)
    assert repeat.base_ns is None


def test_thin_lid_is_timed_by_its_first_face_not_by_a_lobe():
    """A layer far thinner than the wave echoes as the pulse's derivative, one lobe before it and one behind."""
    echo = read_echo(noisy(ricker(10.0) - ricker(10.6)), INTERVAL_NS, 10.4, PERIOD_NS)
    assert echo.top_ns == pytest.approx(10.0, abs=0.35)
    assert echo.base_ns is None


def test_an_echo_at_the_end_of_the_record_has_no_base():
    """Below the last sample nothing was recorded, so no base can be told."""
    echo = read_echo(noisy(ricker(58.5)), INTERVAL_NS, 58.5, PERIOD_NS)
    assert echo.base_ns is None
