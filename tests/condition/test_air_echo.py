"""Things above the ground, by travel times worked out here: 2 d / c through the air, 2 sqrt(x^2 + z^2) / v below.

Light's speed is exact (SI Brochure, 9th edition). Slope of a limb 2 / c = 6.671 ns a metre (trade practice for surface
objects on common-offset profiles, EM GeoSci, GPR practical considerations).
"""

import numpy as np
import pytest
from made_ground import INTERVAL_NS, SAMPLES, Ground, ricker

from gridmap.condition.air_echo import AirEcho, find_air_echoes
from gridmap.condition.air_mute import mute_air_echo
from gridmap.model import CleanLine

LIGHT = 0.299792458
PERIOD_NS = 1e3 / 300.0
TIME = INTERVAL_NS * np.arange(SAMPLES)


def survey(*, post=None, wall_x=None, pipes=(), strength=2.0, noise=0.1, lines=11):
    """Lines along y, 0.5 m apart, over ground of unit scatter; walked to and fro."""
    ground, rng, out = Ground(3, pipes=pipes), np.random.default_rng(4), []
    for k in range(lines):
        y = np.arange(0.0, 5.01, 0.05)
        xy = np.stack([np.full(len(y), 0.5 * k), y if k % 2 == 0 else y[::-1]], axis=1)
        traces = ground.traces(xy, noise, rng)
        if post is not None:
            traces += strength * ricker(TIME - 2 * np.hypot(*(xy - post).T)[:, None] / LIGHT)
        if wall_x is not None:
            traces += strength * ricker(TIME - 2 * np.abs(xy[:, :1] - wall_x) / LIGHT)
        along = np.abs(xy[:, 1] - xy[0, 1])
        out.append(CleanLine(f"L{k}", xy, along, traces.astype(np.float32), np.ones(len(y), bool), 0.0))
    return out


@pytest.mark.parametrize("post", [(7.2, 2.0), (-1.5, 4.0), (2.5, 7.0)])
def test_a_post_beside_the_survey_is_found_at_its_place(post):
    """An echo twice as strong as the ground's own scatter is placed within 0.15 m, and nothing else is named."""
    (echo,) = find_air_echoes(survey(post=post), INTERVAL_NS, 0.0, PERIOD_NS)
    assert echo.kind == "post"
    assert np.hypot(echo.x_m - post[0], echo.y_m - post[1]) < 0.15
    assert len(echo.lines) >= 5


def test_a_wall_is_found_at_its_distance_and_bearing():
    """A wall along y at x = 7 answers at twice its perpendicular distance over c: flat on each line, a limb across."""
    (echo,) = find_air_echoes(survey(wall_x=7.0), INTERVAL_NS, 0.0, PERIOD_NS)
    assert echo.kind == "wall"
    assert abs(echo.x_m - 7.0) < 0.15
    assert min(echo.normal_deg, 360 - echo.normal_deg) <= 3.0


def test_nothing_buried_is_named():
    """Pipes many times as strong as the ground's scatter, and the ground alone, name nothing."""
    pipes = (((0.0, 2.5), 0.0, 0.6, 12.0), ((2.5, 0.0), 60.0, 1.0, 12.0))
    assert find_air_echoes(survey(pipes=pipes), INTERVAL_NS, 0.0, PERIOD_NS) == ()
    assert find_air_echoes(survey(), INTERVAL_NS, 0.0, PERIOD_NS) == ()
    assert find_air_echoes([], INTERVAL_NS, 0.0, PERIOD_NS) == ()


def test_time_of_an_echo_is_twice_the_distance_over_light():
    """10 m away: 66.7 ns (trade practice: at 0.1 m/ns it would pass for a depth of 3.34 m)."""
    echo = AirEcho("post", 10.0, 0.0, float("nan"), 10.0, 1.0, 10.0, ())
    assert echo.two_way_ns(np.zeros((1, 2)), 0.0)[0] == pytest.approx(66.71, abs=0.01)
    near, far = echo.two_way_ns(np.array([[8.0, 0.0], [9.0, 0.0]]), 0.0)
    assert near - far == pytest.approx(6.671, abs=0.001)


def test_taking_an_echo_off_leaves_what_is_buried():
    """A post's echo sinks by 12 dB in the stack that images it; a pipe that crosses it keeps its own within 1 dB."""
    post = (7.2, 2.0)
    pipes = (((0.0, 2.5), 0.0, 0.9, 3.0),)
    bare, both = survey(pipes=pipes, noise=0.0), survey(post=post, pipes=pipes, noise=0.0)
    echo = find_air_echoes(both, INTERVAL_NS, 0.0, PERIOD_NS)[0]

    def stacked():
        """Mean over traces of what the post added, at its true time where that is clear of both ends."""
        added = np.concatenate([b.traces - a.traces for a, b in zip(bare, both, strict=True)])
        at = 2 * np.hypot(*(np.concatenate([ln.xy_m for ln in both]) - post).T) / LIGHT
        clear = (at > 4 * PERIOD_NS) & (at < TIME[-1] - 2 * PERIOD_NS)
        return added[clear, np.rint(at[clear] / INTERVAL_NS).astype(int)].mean()

    before = stacked()
    mute_air_echo(both, INTERVAL_NS, 0.0, PERIOD_NS, echo)
    assert abs(stacked()) < 0.25 * before

    def pipe_peak(lines):
        apex = round(2 * 0.9 / 0.1 / INTERVAL_NS)
        return np.mean([ln.traces[np.abs(ln.xy_m[:, 1] - 2.5) < 0.1, apex].mean() for ln in lines])

    assert abs(20 * np.log10(pipe_peak(both) / pipe_peak(bare))) < 1.0
