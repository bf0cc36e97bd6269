"""One layer or two, from root-mean-square velocities worked out here by Dix's sum."""

from dataclasses import replace

import numpy as np
import pytest

from gridmap.velocity.profile import Targets, fit_profile


def targets(times, velocities, log_sd=0.015, lines=6):
    n = len(times)
    return Targets(
        np.array(times, float), np.array(velocities, float), np.full(n, log_sd),
        np.full(n, np.nan), np.full(n, lines), np.full(n, lines),
    )  # fmt: skip


def rms(time_ns, top_m, upper, lower):
    """Root-mean-square velocity of two layers at a vertical two-way time (Dix 1955)."""
    above = min(time_ns, 2 * top_m / upper)
    return np.sqrt((above * upper**2 + (time_ns - above) * lower**2) / time_ns)


def test_even_ground_stays_one_layer():
    """Equal velocities at all times give that velocity and one layer."""
    profile = fit_profile(targets([6, 10, 15, 20], [0.09] * 4))
    assert profile.mean_m_per_ns == pytest.approx(0.09, rel=0.01)
    assert len(profile.model.top_m) == 1
    assert profile.layered_odds < 1


def test_two_layers_are_told_from_their_rms_velocities():
    """0.14 m/ns over 0.09 m/ns from 0.4 m: the mean to 1 m is 2/t(1 m), and two layers are reported."""
    times = [5, 9, 13, 18, 24]
    profile = fit_profile(targets(times, [rms(t, 0.4, 0.14, 0.09) for t in times]))
    mean = 1.0 / (0.4 / 0.14 + 0.6 / 0.09)
    assert profile.mean_m_per_ns == pytest.approx(mean, rel=0.015)
    assert len(profile.model.top_m) == 2
    assert profile.model.mean_m_per_ns(1.0) == pytest.approx(profile.mean_m_per_ns, rel=1e-6)
    assert float(profile.model.depth_m(5.0)) == pytest.approx(0.35, rel=0.05)


def test_one_shallow_target_leaves_the_depth_open():
    """A single shallow target gives a wider deviation for the mean to 1 m than one near 1 m."""
    shallow, deep = fit_profile(targets([5], [0.11])), fit_profile(targets([18], [0.11]))
    assert shallow.sd_m_per_ns > 1.2 * deep.sd_m_per_ns


def test_a_wild_target_does_not_move_the_rest():
    """Nine points near 0.1 and one at 0.17 give 0.1 within its deviation."""
    v = [0.1, 0.102, 0.099, 0.101, 0.098, 0.1, 0.103, 0.1, 0.097, 0.17]
    profile = fit_profile(targets(np.linspace(8, 18, 10), v, 0.03, 1))
    assert profile.mean_m_per_ns == pytest.approx(0.1, rel=0.015)


def test_quarrelling_targets_widen_the_deviation():
    """Targets that disagree beyond their own deviations leave more doubt than targets that agree."""
    agree = fit_profile(targets([12] * 4, [0.1] * 4, 0.03, 1))
    quarrel = fit_profile(targets([12] * 4, [0.07, 0.09, 0.12, 0.15], 0.03, 1))
    assert quarrel.sd_m_per_ns > 2 * agree.sd_m_per_ns


def test_a_prior_pulls_what_is_vague():
    """A prior of 0.13 +- 0.003 outweighs one vague target at 0.1."""
    vague = targets([12], [0.1], 0.15, 1)
    assert fit_profile(vague, (0.13, 0.003)).mean_m_per_ns > 0.12


def test_a_pipe_seen_by_two_lines_at_an_angle_does_not_speed_up_the_ground():
    """A pair that reads 0.1 / cos(33 degrees) and lies in a row at 33 degrees leaves 0.1 m/ns."""
    times, v = [9, 10, 8, 19], [0.1, 0.101, 0.1, 0.1 / np.cos(np.radians(33))]
    t = targets(times, v)
    pair = replace(t, lines=np.array([6, 6, 6, 2]), pair_deg=np.array([np.nan, np.nan, np.nan, 33.0]))
    assert fit_profile(pair).mean_m_per_ns == pytest.approx(0.1, rel=0.02)
    assert fit_profile(t).mean_m_per_ns > 1.03 * fit_profile(pair).mean_m_per_ns
