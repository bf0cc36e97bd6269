"""Ties: an echo of known depth is found, and tells the velocity down to it."""

import numpy as np
import pytest

from gridmap.model import CleanLine, VelocityModel
from gridmap.site.records import Antenna, Ground, Tie
from gridmap.velocity.combine import choose_velocity
from gridmap.velocity.profile import Targets, fit_profile
from gridmap.velocity.ties import TiePick, pick_ties

ANTENNA = Antenna(300.0, 0.16)
NONE = Targets(*(np.zeros(0) for _ in range(4)), np.zeros(0, int), np.zeros(0, int))


def line(time_ns):
    """A line along y at x = 1 with one echo at every trace: a Ricker pulse of 300 MHz at `time_ns`."""
    t = 0.2 * np.arange(250)
    a = (np.pi * 0.3 * (t - time_ns)) ** 2
    y = np.arange(0, 4, 0.05)
    noise = 0.01 * np.random.default_rng(1).normal(size=(len(y), len(t)))
    traces = ((1 - 2 * a) * np.exp(-a) + noise).astype(np.float32)
    return CleanLine("a", np.stack([np.full(len(y), 1.0), y], 1), y, traces, np.ones(len(y), bool), 0.0)


def test_separation_is_taken_off():
    """With 0.16 m between the antennas an echo at 10.127 ns is that of 0.5 m at 0.1 m/ns, 10 ns straight down."""
    # shared/trade.md 1.3, row "Separation S" [calc there].
    expected = VelocityModel.constant(0.1, 0.01, "")
    picks, notes = pick_ties([Tie("main", 1.0, 2.0, 0.5, 0.01)], [line(10.127)], 0.2, ANTENNA, expected)
    assert notes == ()
    assert picks[0].time_ns == pytest.approx(10.0, abs=0.25)


def test_a_tie_with_a_stated_time_needs_no_trace():
    """A time read off a radargram is taken as it is."""
    expected = VelocityModel.constant(0.1, 0.02, "")
    picks, _ = pick_ties([Tie("main", 1.0, 2.0, 0.5, 0.01, 12.0)], [], 0.2, ANTENNA, expected)
    assert picks[0].time_ns == pytest.approx(11.9, abs=0.3)


def test_a_tie_without_an_echo_is_said():
    """Where no trace came near, the note names the tie and says what to do."""
    expected = VelocityModel.constant(0.1, 0.01, "")
    picks, notes = pick_ties([Tie("main", 9.0, 2.0, 0.5, 0.01)], [line(10.0)], 0.2, ANTENNA, expected)
    assert picks == ()
    assert "main" in notes[0]
    assert "time_ns" in notes[0]


def test_one_good_tie_tells_the_velocity():
    """1 m probed to 2 cm with an echo at 20 ns leaves 2 d / t = 0.1 m/ns within a few percent."""
    profile = fit_profile(NONE, ties=[TiePick("main", 1.0, 0.02, 20.0, 0.2)])
    assert profile.mean_m_per_ns == pytest.approx(0.1, rel=0.01)
    assert 0.02 < profile.sd_m_per_ns / 0.1 < 0.045


def test_two_ties_tell_layers():
    """0.14 m/ns over 0.08 m/ns from 0.5 m, tied at 0.45 m and 1.2 m: times 2 sum(h / v)."""
    deep = 2 * (0.5 / 0.14 + 0.7 / 0.08)
    ties = [
        TiePick("a", 0.45, 0.01, 2 * 0.45 / 0.14, 0.1),
        TiePick("b", 1.2, 0.01, deep, 0.1),
        TiePick("c", 0.8, 0.01, 2 * (0.5 / 0.14 + 0.3 / 0.08), 0.1),
    ]
    profile = fit_profile(NONE, ties=ties)
    assert len(profile.model.top_m) == 2
    assert float(profile.model.depth_m(deep)) == pytest.approx(1.2, rel=0.05)


def test_ties_alone_are_a_basis_and_contradict_a_stated_velocity():
    """Without hyperbolas ties decide; a stated velocity 30 percent off is said to disagree."""
    ties = (TiePick("main", 1.0, 0.02, 20.0, 0.2),)
    assert choose_velocity(Ground(), None, ties).basis == "ties"
    stated = choose_velocity(Ground(velocity_m_per_ns=0.13, velocity_sd_m_per_ns=0.004), None, ties)
    assert stated.basis == "stated"
    assert "disagree" in stated.warnings[0]
