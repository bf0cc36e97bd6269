"""Hyperbolas made from textbook formulas, written here and not taken from the code under test."""

import numpy as np
import pytest

from gridmap.model import CleanLine
from gridmap.site.records import Antenna
from gridmap.velocity.hyperbola import fit_hyperbolas
from gridmap.velocity.profile import fit_profile, join_targets
from gridmap.velocity.surface import straight_rays

V, MHZ, INTERVAL, SAMPLES = 0.1, 400.0, 0.2, 200
ANTENNA = Antenna(MHZ, 0.16, 0.0)
ALONG = np.arange(0.0, 5.001, 0.05)


def ricker(time_ns):
    """Ricker pulse of unit peak (Ricker 1953)."""
    a = (np.pi * MHZ * 1e-3 * time_ns) ** 2
    return (1 - 2 * a) * np.exp(-a)


def line(times, name="L1", y_m=0.0, noise=0.02, number=0):
    """One line along x at y; an echo of unit strength for each (trace,) array of times, plus noise."""
    t = INTERVAL * np.arange(SAMPLES)
    traces = sum((ricker(t - np.asarray(time)[:, None]) for time in times), np.zeros((len(ALONG), SAMPLES)))
    traces = traces + noise * np.random.default_rng(number).normal(size=traces.shape)
    xy = np.stack([ALONG, np.full(len(ALONG), y_m)], axis=1)
    return CleanLine(name, xy, ALONG, traces.astype(np.float32), np.ones(len(ALONG), bool), 0.0)


def two_leg_ns(distance_m, depth_m, v=V, separation_m=0.16):
    """Transmitter to target to receiver (trade.md 1.3, row "Separation S")."""
    a, b = distance_m - separation_m / 2, distance_m + separation_m / 2
    return (np.hypot(a, depth_m) + np.hypot(b, depth_m)) / v


def fit(lines, **more):
    settings = {"radius_m": 0.0, "point_radius_m": 0.0, "effect": straight_rays()} | more
    return fit_hyperbolas(lines, INTERVAL, ANTENNA, **settings)


def only(fits):
    """Index of the one accepted event."""
    assert fits.accepted.sum() == 1, fits.reason
    return int(np.flatnonzero(fits.accepted)[0])


def test_velocity_and_place_of_a_thin_pipe_come_back():
    """A thin target 0.7 m down in 0.1 m/ns is found at its place with its velocity."""
    fits = fit([line([two_leg_ns(ALONG - 2.43, 0.7)])])
    i = only(fits)
    assert fits.velocity_m_per_ns[i] == pytest.approx(V, rel=0.01)
    assert fits.along_m[i] == pytest.approx(2.43, abs=0.02)
    assert fits.time_ns[i] == pytest.approx(14.0, abs=0.1)
    assert fits.depth_m[i] == pytest.approx(0.7, rel=0.012)
    assert abs(fits.velocity_m_per_ns[i] - V) < 3 * fits.sd_m_per_ns[i]


@pytest.mark.parametrize("v", [0.065, 0.08, 0.13, 0.16])
def test_slow_and_fast_ground(v):
    """The velocity comes back over the range of real ground."""
    fits = fit([line([two_leg_ns(ALONG - 2.5, 0.8, v)])])
    assert fits.velocity_m_per_ns[only(fits)] == pytest.approx(v, rel=0.015)


def test_antenna_separation_is_in_the_travel_time():
    """With the separation left out of the model the same shallow echo reads a wrong velocity."""
    lines = [line([two_leg_ns(ALONG - 2.5, 0.4, separation_m=0.4)])]
    wide = Antenna(MHZ, 0.4)
    right = fit_hyperbolas(lines, INTERVAL, wide, radius_m=0, point_radius_m=0, effect=straight_rays())
    wrong = fit_hyperbolas(lines, INTERVAL, Antenna(MHZ, 0.0), point_radius_m=0, effect=straight_rays())
    assert right.velocity_m_per_ns[only(right)] == pytest.approx(V, rel=0.015)
    assert abs(wrong.velocity_m_per_ns[wrong.coherence.argmax()] - V) > 0.04 * V


def test_thick_pipe_reads_fast_unless_its_radius_is_known():
    """A pipe of 0.15 m radius, top at 0.5 m, reads about 0.1096 m/ns as a thin one, 0.1 with its radius."""
    # trade.md 1.3, row "Cylinder r, top h": t = 2/v (sqrt(x^2 + (h+r)^2) - r); point fit over 1 m: 0.1096.
    distance = ALONG - 2.5
    times = [2 / V * (np.hypot(distance, 0.65) - 0.15)]
    antenna = Antenna(MHZ, 0.0)
    thin = fit_hyperbolas(
        [line(times)], INTERVAL, antenna, point_radius_m=0, aperture_deg=57, effect=straight_rays()
    )
    thick = fit_hyperbolas([line(times)], INTERVAL, antenna, point_radius_m=0.15, effect=straight_rays())
    assert thin.velocity_m_per_ns[only(thin)] == pytest.approx(0.1096, rel=0.02)
    assert thick.velocity_m_per_ns[only(thick)] == pytest.approx(V, rel=0.01)


def test_oblique_pipe_is_corrected_by_its_neighbours():
    """A pipe crossed 35 degrees off reads v / cos(35) on one line, and v once its neighbours are asked."""
    angle = np.radians(35)
    lines = []
    for k in range(5):
        y = 0.25 * k
        off = (ALONG - 2.0) * np.cos(angle) - y * np.sin(angle)
        lines.append(line([two_leg_ns(off, 0.7, separation_m=0.16 * np.cos(angle))], f"L{k}", y, number=k))
    alone = fit(lines[:1])
    assert alone.velocity_m_per_ns[only(alone)] == pytest.approx(V / np.cos(angle), rel=0.02)
    fits = fit(lines)
    good = fits.accepted
    assert good.sum() == 5
    assert len(set(fits.target[good])) == 1
    np.testing.assert_allclose(fits.angle_deg[good], 35, atol=2)
    np.testing.assert_allclose(fits.velocity_m_per_ns[good], V, rtol=0.015)


def test_points_on_neighbouring_lines_are_not_a_pipe():
    """Targets scattered over three lines stay points and keep their velocity."""
    places = [1.2, 3.4, 2.3]
    lines = [line([two_leg_ns(ALONG - x, 0.6)], f"L{k}", 0.25 * k, number=k) for k, x in enumerate(places)]
    fits = fit(lines)
    assert fits.accepted.sum() == 3
    assert np.isnan(fits.angle_deg[fits.accepted]).all()
    assert len(set(fits.target[fits.accepted])) == 3


def test_layers_flat_and_dipping_are_refused():
    """A flat reflector, a dipping one and a gently wavy one give no accepted hyperbola."""
    flat = np.full(len(ALONG), 12.0)
    wavy = 26 + 0.6 * np.sin(2 * np.pi * ALONG / 3.0)
    fits = fit([line([flat, 17 + 0.9 * ALONG, wavy], number=k) for k in range(3)])
    assert not fits.accepted.any()


def test_airwave_hyperbola_is_refused():
    """A post 2 m beside the line draws 2 r / c, 0.2998 m/ns, and is not taken for a buried target."""
    # trade.md 1.3, row "Surface object": limb slope 2/c = 6.671 ns/m.
    times = 2 * np.hypot(ALONG - 2.5, 2.0) / 0.299792458
    far = 2 * np.hypot(np.array([100.0, 101.0]), 2.0) / 0.299792458
    assert far[1] - far[0] == pytest.approx(6.671, abs=0.002)
    assert not fit([line([times], number=k) for k in range(3)]).accepted.any()


def test_half_a_hyperbola_is_refused():
    """The limb of an edge, present on one side only, is not believed."""
    times = two_leg_ns(ALONG - 2.5, 0.7)
    fits = fit([line([np.where(ALONG >= 2.5, times, 1e3)])])
    assert not fits.accepted.any()


def test_echo_below_an_echo_is_refused():
    """The repeat at twice the time under a pipe does not count: only the pipe does."""
    once = two_leg_ns(ALONG - 2.5, 0.6)
    one = line([once])
    both = line([once, 2 * once])
    fits = fit([one, both])
    assert fits.accepted.sum() == 2
    np.testing.assert_allclose(fits.time_ns[fits.accepted], 12.0, atol=0.15)
    assert any("repeats" in r for r in fits.reason)


def test_unusable_traces_are_left_out_and_a_wide_gap_refuses():
    """Four bad traces on a limb do no harm; half of the limb gone is refused."""
    good = line([two_leg_ns(ALONG - 2.5, 0.8)])
    for first, last, accepted in ((56, 59, 1), (50, 62, 0)):
        traces, usable = good.traces.copy(), good.usable.copy()
        traces[first:last], usable[first:last] = 0, False
        fits = fit([CleanLine("L1", good.xy_m, good.along_m, traces, usable, 0.0)])
        assert fits.accepted.sum() == accepted
        if accepted:
            assert fits.velocity_m_per_ns[only(fits)] == pytest.approx(V, rel=0.015)


def test_noise_alone_gives_nothing():
    """White noise holds no hyperbola."""
    fits = fit([line([], noise=1.0, number=k) for k in range(4)])
    assert not fits.accepted.any()


def test_a_late_time_zero_moves_velocity_by_half_its_share():
    """Times late by 0.4 ns at 14 ns read 1.4 percent slow, as d ln v = - d t / (2 t) says."""
    times = two_leg_ns(ALONG - 2.5, 0.7)
    a, b = fit([line([times])]), fit([line([times + 0.4])])
    change = np.log(b.velocity_m_per_ns[only(b)] / a.velocity_m_per_ns[only(a)])
    assert change == pytest.approx(-0.5 * 0.4 / 14.0, abs=0.005)


def test_fits_of_a_survey_join_to_one_target_with_its_velocity():
    """Five crossings of one pipe weigh as one target, whose deviation does not shrink with their number."""
    lines = [line([two_leg_ns(ALONG - 2.5, 0.7)], f"L{k}", 0.25 * k, number=k) for k in range(5)]
    targets = join_targets(fit(lines))
    assert list(targets.events) == [5]
    assert list(targets.lines) == [5]
    profile = fit_profile(targets)
    assert profile.mean_m_per_ns == pytest.approx(V, rel=0.02)
    # The pipe lies 0.7 m down; below it the ground is unknown, which the mean to 1 m has to say.
    at_pipe = float(profile.model.depth_sd_m(0.7)) / 0.7
    assert 0.02 < at_pipe < 0.08
    assert profile.sd_m_per_ns / V > at_pipe
    assert len(profile.model.top_m) == 1
