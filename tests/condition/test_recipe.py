"""The recipe as a whole."""

import numpy as np
import pytest

from gridmap.condition.recipe import choose_recipe, finish_lines, prepare_line
from gridmap.model import Line, PlacedLine


def placed(name, gain, zero_ns, seed):
    rng = np.random.default_rng(seed)
    time = 0.2 * np.arange(250) - zero_ns

    def pulse(at):
        a = (np.pi * 0.3 * (time - at)) ** 2
        return (1 - 2 * a) * np.exp(-a)

    traces = gain * (pulse(0.0)[None] + 0.002 * rng.normal(size=(100, 250)))
    traces[40:50] += gain * 0.3 * pulse(15.0)
    xy = np.stack([0.05 * np.arange(100), np.full(100, float(seed))], axis=1)
    return PlacedLine(Line(name, traces.astype(np.float32), 0.2), xy, xy[:, 0].copy())


def test_lines_of_different_gain_and_time_zero_come_out_alike():
    """Twice the gain and 2 ns of drift: the same echo at the same sample with the same strength."""
    recipe = choose_recipe(300.0, 0.0, 0.2)
    lines = [
        prepare_line(placed(n, g, z, i), recipe)
        for i, (n, g, z) in enumerate([("A", 1, 3.0), ("B", 20, 5.0)])
    ]
    done = finish_lines(lines, recipe).lines
    peaks = [np.abs(ln.traces[45]).argmax() for ln in done]
    assert peaks[0] == peaks[1] == pytest.approx(75, abs=1)
    strengths = [np.abs(ln.traces[45]).max() for ln in done]
    assert strengths[0] == pytest.approx(strengths[1], rel=0.05)


def test_settings_left_open_follow_the_frequency():
    """Twice the frequency: band twice as high, dewow window half as long."""
    low, high = choose_recipe(200.0, 0.1, 0.1), choose_recipe(400.0, 0.1, 0.1)
    assert high.band_mhz == pytest.approx([2 * f for f in low.band_mhz])
    assert high.dewow_ns == pytest.approx(low.dewow_ns / 2)


def test_coarse_samples_are_refined_to_a_twelfth_of_a_period():
    """400 MHz with 0.4 ns samples (the coarsest allowed, trade.md 1.2) becomes 0.2 ns."""
    assert choose_recipe(400.0, 0.1, 0.4).interval_ns == pytest.approx(0.2)
