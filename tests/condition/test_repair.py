"""Spikes and single dead traces are mended; echoes are not."""

import numpy as np
import pytest

from gridmap.condition.repair import fill_dead, repair_spikes

TIME = 0.2 * np.arange(250)
ALONG = 0.03 * np.arange(120)


def ricker(t, mhz=300.0):
    a = (np.pi * mhz * 1e-3 * t) ** 2
    return (1 - 2 * a) * np.exp(-a)


def line(noise=0.003):
    """Direct wave, a hyperbola at 0.1 m/ns and a flat layer, with noise."""
    at = 2 * np.hypot(ALONG - 1.8, 0.7) / 0.1 + 3
    traces = ricker(TIME - 3)[None] + 0.1 * ricker(TIME - at[:, None]) + 0.05 * ricker(TIME - 30)[None]
    return (traces + noise * np.random.default_rng(1).normal(size=traces.shape)).astype(np.float32)


def test_a_clean_line_is_left_alone_to_the_bit():
    """No echo, direct wave included, is taken for a spike."""
    traces = line()
    out, repaired = repair_spikes(traces, 0.2, 0.42)
    assert out is traces
    assert not repaired.any()


@pytest.mark.parametrize("size", [0.2, 1.0, -50.0])
@pytest.mark.parametrize("length", [1, 2])
def test_a_spike_is_replaced_and_marked(size, length):
    """What stood below comes back within a twentieth of the echo's peak and noise; only the spike is marked."""
    clean = line()
    traces = clean.copy()
    traces[40, 120 : 120 + length] += size
    traces[61, 61] += size
    out, repaired = repair_spikes(traces, 0.2, 0.42)
    assert repaired.sum() == length + 1
    assert repaired[40, 120 : 120 + length].all()
    assert np.abs(out - clean).max() < 0.02


def test_a_burst_longer_than_asked_is_left_for_a_person():
    """Ten samples at once are no spike."""
    traces = line()
    traces[40, 120:130] += 3.0
    assert not repair_spikes(traces, 0.2, 0.42)[1].any()


def test_one_dead_trace_is_bridged_and_marked():
    """A wave of the limb's steepness is cut by 1 - cos(pi gap / apparent wavelength) halfway."""
    clean = line(0.0)
    traces, dead = clean.copy(), np.zeros(120, bool)
    traces[50], dead[50] = 0, True
    out, filled = fill_dead(traces, dead, ALONG, 0.09, 40)
    assert list(np.flatnonzero(filled)) == [50]
    slope = 0.3 / np.hypot(0.3, 0.7)
    lost = 1 - np.cos(2 * np.pi * 0.03 * 2 * 0.4 * slope / 0.1)
    assert np.abs(out[50, 40:] - clean[50, 40:]).max() < 0.1 * lost


def test_a_long_run_and_a_run_at_the_end_stay_dead():
    """Four traces in 0.15 m would alias; at the end there is no other side."""
    traces, dead = line(), np.zeros(120, bool)
    dead[50:54], dead[:1], dead[-2:] = True, True, True
    out, filled = fill_dead(traces, dead, ALONG, 0.09, 40)
    assert out is traces
    assert not filled.any()


def test_unlike_neighbours_do_not_support_a_bridge():
    """Noise on both sides: nothing is made up between."""
    traces = np.random.default_rng(3).normal(size=(20, 250)).astype(np.float32)
    dead = np.arange(20) == 9
    assert not fill_dead(traces, dead, ALONG[:20], 0.09, 40)[1].any()
