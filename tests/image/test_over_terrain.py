"""Migration below slopes and bumps: straight rays through the ground, computed here from co-ordinates alone."""

import math

import numpy as np
import pytest

from gridmap.image.envelope import envelope
from gridmap.image.migrate import envelope_in_place, migrate_3d, plan_2d
from gridmap.image.over_terrain import (
    Uneven,
    judge_ground,
    migrate_2d_over_terrain,
    migrate_3d_over_terrain,
)
from gridmap.image.posts import line_posts
from gridmap.model import CleanLine, Grid, VelocityModel

V = 0.1
INTERVAL = 0.2
SAMPLES = 330
FREQUENCY = 0.3
QUARTER_WAVELENGTH = 0.25 * V / FREQUENCY
LIMIT = 0.1 / FREQUENCY
GRID = Grid(0, 0, 0.05, 81, 81)
VELOCITY = VelocityModel.constant(V, 0, "")


def slope(angle_deg, bearing_deg=30.0):
    """Ground that rises by `angle_deg` toward `bearing_deg` from x."""
    rise, turn = math.tan(math.radians(angle_deg)), math.radians(bearing_deg)
    return lambda x, y: rise * (x * math.cos(turn) + y * math.sin(turn))


def bump(x, y):
    """A mound half a metre high, 1.2 m to its flank, not under the middle of the grid."""
    return 0.5 * np.exp(-((x - 1.6) ** 2 + (y - 2.3) ** 2) / (2 * 1.2**2))


GROUNDS = [
    pytest.param(slope(10), id="10 degrees"),
    pytest.param(slope(20), id="20 degrees"),
    pytest.param(bump, id="bump"),
]


def pulse(time_ns):
    a = (math.pi * FREQUENCY * time_ns) ** 2
    return (1 - 2 * a) * np.exp(-a)


def survey(arrival_ns, spacing=0.25):
    """Lines along x and along y, `spacing` metres apart; `arrival_ns` takes (trace, 2) places to two-way times."""
    time = INTERVAL * np.arange(SAMPLES)
    lines = []
    for c in np.arange(0, 4.01, spacing):
        x = np.arange(0, 4.01, 0.05)
        for xy in (np.stack([x, np.full_like(x, c)], axis=1), np.stack([np.full_like(x, c), x], axis=1)):
            traces = pulse(time - arrival_ns(xy)[:, None]).astype(np.float32)
            lines.append(CleanLine("L", xy, x, traces, np.ones(len(x), bool), 0.0))
    return lines


def heights(ground):
    x, y = np.meshgrid(GRID.x_m(), GRID.y_m())
    return ground(x, y)


def point_times(ground, x0, y0, depth):
    """Straight rays from antennas on the ground to a point at `depth` straight below its own ground (Pythagoras)."""
    z0 = ground(x0, y0) - depth
    return lambda xy: (
        2 * np.sqrt(((xy - [x0, y0]) ** 2).sum(axis=1) + (ground(xy[:, 0], xy[:, 1]) - z0) ** 2) / V
    )


def level_plane_times(ground, elevation):
    """The perpendicular to a level plane runs straight down, whatever the ground above does."""
    return lambda xy: 2 * (ground(xy[:, 0], xy[:, 1]) - elevation) / V


@pytest.mark.parametrize("ground", GROUNDS)
def test_point_below_uneven_ground_images_at_its_place_and_depth(ground):
    """A point images within a quarter wavelength of its place, at its depth below the ground straight above it."""
    x0, y0, depth = 2.1, 1.9, 0.9
    depth_m = np.arange(0, 1.6, 0.02)
    lines = survey(point_times(ground, x0, y0, depth))
    image, _ = migrate_3d_over_terrain(
        lines, INTERVAL, 0.0, VELOCITY, GRID, depth_m, Uneven(heights(ground), LIMIT)
    )
    envelope_in_place(image)
    level, row, column = np.unravel_index(image.argmax(), image.shape)
    off = (GRID.x_m()[column] - x0, GRID.y_m()[row] - y0, depth_m[level] - depth)
    assert np.hypot(*off[:2]) < QUARTER_WAVELENGTH, off
    assert abs(off[2]) < 0.5 * QUARTER_WAVELENGTH, off


@pytest.mark.parametrize("ground", GROUNDS)
def test_level_plane_below_uneven_ground_images_at_its_elevation(ground):
    """A level plane images at one elevation within a quarter wavelength below every cell away from the rim."""
    elevation = (
        float(heights(ground).min()) - 0.9
    )  # at 0.6 m, lines 3/4 wavelength apart alias in 0.3 % of cells
    depth_m = np.arange(0.3, 1.4 + np.ptp(heights(ground)), 0.02)
    # Lines no farther apart than half a wavelength: at 3/4 one cell in 1000 on the bump's flank is off by aliasing.
    lines = survey(level_plane_times(ground, elevation), 0.15)
    image, _ = migrate_3d_over_terrain(
        lines, INTERVAL, 0.0, VELOCITY, GRID, depth_m, Uneven(heights(ground), LIMIT)
    )
    envelope_in_place(image)
    strength = image[:, 20:-20, 20:-20]
    found = heights(ground)[20:-20, 20:-20] - depth_m[strength.argmax(axis=0)]
    assert np.abs(found - elevation).max() < QUARTER_WAVELENGTH


@pytest.mark.parametrize("angle_deg", [10.0, 20.0])
def test_line_up_a_slope_images_a_pipe_straight_below_its_ground(angle_deg):
    """In 2D, with the antennas apart along the slope, a pipe across the line images at its place and depth."""
    ground = slope(angle_deg, 0.0)
    x = np.arange(0, 5.01, 0.05)
    pipe, separation = np.array([2.6, ground(2.6, 0) - 0.8]), 0.16
    middle = np.stack([x, ground(x, 0 * x)], axis=1)
    half = 0.5 * separation * np.array([1.0, math.tan(math.radians(angle_deg))])
    times = (np.linalg.norm(middle - half - pipe, axis=1) + np.linalg.norm(middle + half - pipe, axis=1)) / V
    traces = pulse(INTERVAL * np.arange(SAMPLES) - times[:, None]).astype(np.float32)
    line = CleanLine("L", np.stack([x, 0 * x], axis=1), x, traces, np.ones(len(x), bool), 0.0)
    posts = line_posts(line, 0.05)
    depth_m = np.arange(0, 1.6, 0.02)
    signal = plan_2d([line], INTERVAL, separation, VELOCITY, depth_m, 0.05).signal
    image = migrate_2d_over_terrain(
        line, signal, VELOCITY, depth_m, 0.05, ground(posts[:, 0], posts[:, 1]), LIMIT
    )
    strength = envelope(image)
    post, level = np.unravel_index(strength.argmax(), strength.shape)
    assert posts[post, 0] == pytest.approx(2.6, abs=QUARTER_WAVELENGTH)
    assert depth_m[level] == pytest.approx(0.8, abs=0.5 * QUARTER_WAVELENGTH)


def test_taking_a_slope_as_flat_misses_by_more_than_a_quarter_wavelength():
    """What the true heights are for: on 20 degrees the flat sum puts the point at depth z cos(20), sin(20) z aside."""
    ground, depth_m = slope(20, 0.0), np.arange(0, 1.6, 0.02)
    lines = survey(point_times(ground, 2.1, 1.9, 0.9))
    image, _ = migrate_3d(lines, INTERVAL, 0.0, VELOCITY, GRID, depth_m)
    envelope_in_place(image)
    _, _, column = np.unravel_index(image.argmax(), image.shape)
    assert abs(GRID.x_m()[column] - 2.1) > QUARTER_WAVELENGTH


def test_ground_is_flat_enough_below_a_tenth_of_a_period():
    """A rise r over a half-metre of aperture at 45 degrees costs about sqrt(2) r / v; a slope of 0.3 degrees passes."""
    depth_m = np.arange(0, 1.6, 0.02)
    period = 1 / FREQUENCY
    level = judge_ground(heights(lambda x, y: 0 * x + 123.4), 0.05, VELOCITY, depth_m, period)
    assert level.flat_miss_ns == 0.0
    assert level.flat_will_do
    assert judge_ground(heights(slope(0.3)), 0.05, VELOCITY, depth_m, period).flat_will_do
    assert not judge_ground(heights(slope(3.0)), 0.05, VELOCITY, depth_m, period).flat_will_do
    assert not judge_ground(heights(bump), 0.05, VELOCITY, depth_m, period).flat_will_do
