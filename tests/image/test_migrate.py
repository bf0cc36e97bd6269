"""Migration: diffractors go home, flat layers stay, true dips come out."""

import math

import numpy as np
import pytest

from gridmap.image.choose import choose_imaging, choose_sum
from gridmap.image.envelope import envelope
from gridmap.image.migrate import envelope_in_place, migrate_3d, plan_2d
from gridmap.image.migrate import migrate_2d as migrate_planned
from gridmap.image.posts import line_posts
from gridmap.model import CleanLine, Grid, VelocityModel

V = 0.1
INTERVAL = 0.2
SAMPLES = 250
FREQUENCY = 0.3
QUARTER_WAVELENGTH = 0.25 * V / FREQUENCY


def pulse(time_ns):
    a = (math.pi * FREQUENCY * time_ns) ** 2
    return (1 - 2 * a) * np.exp(-a)


def line(xy, arrival_ns):
    """A line whose every trace has one Ricker echo at `arrival_ns`, (trace,) nanoseconds."""
    time = INTERVAL * np.arange(SAMPLES)
    traces = pulse(time - np.asarray(arrival_ns)[:, None]).astype(np.float32)
    along = np.hypot(*(xy - xy[0]).T)
    return CleanLine("L", xy, along, traces, np.ones(len(xy), bool), 0.0)


def migrate_2d(walked, *settings):
    """Image one line."""
    return migrate_planned([walked], plan_2d([walked], *settings))[0]


def walk(y, length=4.0, step=0.05):
    x = np.arange(0, length + 1e-9, step)
    return np.stack([x, np.full_like(x, y)], axis=1)


def time_to(xy, x0, y0, depth, separation):
    """Separation case of trade.md 1.3 (standard geometry): transmitter and receiver half a separation away."""
    dy2 = (xy[:, 1] - y0) ** 2 + depth**2
    return (
        np.sqrt((xy[:, 0] - x0 + separation / 2) ** 2 + dy2)
        + np.sqrt((xy[:, 0] - x0 - separation / 2) ** 2 + dy2)
    ) / V


@pytest.mark.parametrize("separation", [0.0, 0.16])
def test_point_diffractor_images_at_its_place_in_2d(separation):
    """A thin pipe across the line images within a quarter wavelength (trade.md 1.3, separation case)."""
    xy = walk(0.0)
    depth_m = np.arange(0, 2.0, 0.02)
    walked = line(xy, time_to(xy, 2.0, 0.0, 0.8, separation))
    image = migrate_2d(
        walked, INTERVAL, separation,
        VelocityModel.constant(V, 0, ""), depth_m, 0.05,
    )  # fmt: skip
    strength = envelope(image)
    cell, level = np.unravel_index(strength.argmax(), strength.shape)
    assert line_posts(walked, 0.05)[cell, 0] == pytest.approx(2.0, abs=0.05)
    assert depth_m[level] == pytest.approx(0.8, abs=0.25 * QUARTER_WAVELENGTH)


def test_point_diffractor_images_at_its_place_in_3d():
    """A point between two lines of a survey of both directions images within a quarter wavelength."""
    x0, y0, depth = 1.9, 2.1, 0.7
    lines = []
    for c in np.arange(0, 4.01, 0.25):
        along_x = walk(c)
        lines += [line(along_x, time_to(along_x, x0, y0, depth, 0.0))]
        along_y = along_x[:, ::-1].copy()
        lines += [line(along_y, time_to(along_y, x0, y0, depth, 0.0))]
    grid = Grid(0, 0, 0.05, 81, 81)
    depth_m = np.arange(0, 1.5, 0.02)
    image, _ = migrate_3d(lines, INTERVAL, 0.0, VelocityModel.constant(V, 0, ""), grid, depth_m)
    envelope_in_place(image)
    level, row, column = np.unravel_index(image.argmax(), image.shape)
    assert grid.x_m()[column] == pytest.approx(x0, abs=QUARTER_WAVELENGTH)
    assert grid.y_m()[row] == pytest.approx(y0, abs=QUARTER_WAVELENGTH)
    assert depth_m[level] == pytest.approx(depth, abs=0.5 * QUARTER_WAVELENGTH)


DEPTH_M = np.arange(0, 1.5, 0.01)
CONSTANT = VelocityModel.constant(V, 0, "")


def strength_of(keep, arrival_ns):
    """Strength of the image along a line of 81 traces of which some are kept, (post,)."""
    walked = line(walk(0.0)[keep], arrival_ns[keep])
    return DEPTH_M, envelope(migrate_2d(walked, INTERVAL, 0.0, CONSTANT, DEPTH_M, 0.05))


def decibel(ratio):
    return 20 * np.log10(ratio)


FLAT_NS = np.full(81, 2 * 0.6 / V)
WHOLE = np.arange(81)
HALF_WAVELENGTH_GAP = np.r_[0:39, 42:81]  # 0.2 m from trace to trace; half a wavelength is 0.17 m


def test_flat_reflector_stays_at_its_depth_with_even_strength():
    """A flat event is unmoved to an eighth of a wavelength (trade.md 1.4); line ends swell it by 1.5 dB at most."""
    depth_m, strength = strength_of(WHOLE, FLAT_NS)
    assert depth_m[strength.argmax(axis=1)] == pytest.approx(0.6, abs=0.5 * QUARTER_WAVELENGTH)
    level = decibel(strength.max(axis=1) / strength[40].max())
    assert level.min() > -0.3
    assert level.max() < 1.6


def test_gap_of_half_a_wavelength_changes_a_flat_reflector_by_less_than_1_5_db():
    """Known limit: what is filled in counts less than what was measured, so the reflector swells over a gap."""
    _, whole = strength_of(WHOLE, FLAT_NS)
    _, gapped = strength_of(HALF_WAVELENGTH_GAP, FLAT_NS)
    change = decibel(gapped.max(axis=1) / whole.max(axis=1))
    assert change.min() > -0.3
    assert change.max() < 1.5


@pytest.mark.parametrize(("keep", "x0", "limit_db"), [(WHOLE, 0.1, 2.7), (HALF_WAVELENGTH_GAP, 2.0, 1.5)])
def test_point_near_the_end_of_a_line_or_in_a_gap_keeps_its_strength(keep, x0, limit_db):
    """Known limit: limbs that were not walked cannot be made up; a point 0.6 m deep dims by 2.7 dB at most."""
    arrival = time_to(walk(0.0), x0, 0.0, 0.6, 0.0)
    middle = time_to(walk(0.0), 2.0, 0.0, 0.6, 0.0)
    _, seen = strength_of(keep, arrival)
    _, best = strength_of(WHOLE, middle)
    assert abs(decibel(seen[round(x0 / 0.05), 45:75].max() / best[40, 45:75].max())) < limit_db


def test_crowded_traces_count_no_more_than_sparse_ones():
    """The trapezoid rule: four times the traces on one half of a line leave a flat reflector within 0.5 dB."""
    x = np.r_[np.arange(0, 2, 0.0125), np.arange(2, 4.01, 0.05)]
    walked = line(np.stack([x, 0 * x], axis=1), np.full(len(x), 12.0))
    strength = envelope(migrate_2d(walked, INTERVAL, 0.0, CONSTANT, DEPTH_M, 0.05)).max(axis=1)
    assert np.ptp(decibel(strength[10:-10])) < 0.5


@pytest.mark.parametrize("true_dip_deg", [15.0, 30.0])
def test_dipping_reflector_images_at_its_true_dip(true_dip_deg):
    """tan(apparent) = sin(true) before migration, true dip after (trade.md 1.3, Yilmaz [memory])."""
    xy = walk(0.0, length=6.0)
    depth_m = np.arange(0, 2.4, 0.02)
    # The normal from (x, 0) to a plane through the surface at x = -0.5 is (x + 0.5) sin(dip) long.
    distance = (xy[:, 0] + 0.5) * math.sin(math.radians(true_dip_deg))
    image = migrate_2d(
        line(xy, 2 * distance / V), INTERVAL, 0.0, VelocityModel.constant(V, 0, ""), depth_m, 0.05
    )
    strength = envelope(image)
    cells = np.arange(30, 60)
    slope = np.polyfit(0.05 * cells, depth_m[strength.argmax(axis=1)][cells], 1)[0]
    assert math.degrees(math.atan(slope)) == pytest.approx(true_dip_deg, abs=1.5)


def test_wrong_velocity_puts_a_flat_reflector_in_proportion():
    """Depth d = v t / 2 (GPG, Processing): 40 ns at 0.1 m/ns is 2.00 m; at 0.08 it is 1.60 m."""
    xy = walk(0.0)
    depth_m = np.arange(0, 2.4, 0.01)
    for v, depth in ((0.1, 2.0), (0.08, 1.6)):
        image = migrate_2d(
            line(xy, np.full(81, 40.0)), INTERVAL, 0.0, VelocityModel.constant(v, 0, ""), depth_m, 0.05
        )
        assert depth_m[envelope(image).argmax(axis=1)][40] == pytest.approx(depth, abs=0.02)


def test_unusable_traces_do_not_enter_the_image():
    """A burst flagged as unusable leaves no trace."""
    xy = walk(0.0)
    clean = line(xy, np.full(81, 12.0))
    usable = np.ones(81, bool)
    usable[40] = False
    spoilt = clean.traces.copy()
    spoilt[40] = 50.0
    depth_m = np.arange(0, 1.5, 0.02)
    model = VelocityModel.constant(V, 0, "")
    a = migrate_2d(
        CleanLine("L", xy, clean.along_m, spoilt, usable, 0.0), INTERVAL, 0.0, model, depth_m, 0.05
    )[1]
    assert np.abs(a).max() < 2 * np.abs(migrate_2d(clean, INTERVAL, 0.0, model, depth_m, 0.05)).max()


def test_imaging_follows_the_spacing():
    """Close lines are summed across, far ones are not, the user's word stands."""
    assert choose_imaging("auto", 0.25, 0.36, 20)[0] == "3d"
    assert choose_imaging("auto", 0.5, 0.36, 20)[0] == "2d"
    assert choose_imaging("auto", math.inf, 0.36, 1)[0] == "2d"
    assert choose_imaging("none", 0.25, 0.36, 20)[0] == "none"


def test_fourier_transform_only_where_it_is_exact():
    """A quarter wavelength between lines is the limit of full 3D (trade.md 1.2, Grasmueck 2005); one flat velocity."""
    small = 10**6
    assert choose_sum("3d", 0.08, 0.36, 1, True, small)[0] == "stolt"
    for other in (
        ("3d", 0.1, 0.36, 1, True, small),
        ("3d", 0.08, 0.36, 2, True, small),
        ("3d", 0.08, 0.36, 1, False, small),
        ("3d", 0.08, 0.36, 1, True, 10**10),
        ("2d", 0.08, 0.36, 1, True, small),
    ):
        assert choose_sum(*other)[0] == "kirchhoff"


def test_layers_move_what_one_velocity_would_misplace():
    """A point below a layer boundary, its times by Fermat's principle, images at its depth with the layered model."""
    model = VelocityModel(np.array([0.0, 0.4]), np.array([0.13, 0.08]), 0.0, "")
    xy = walk(0.0)
    cross = np.linspace(-2.0, 2.0, 4001)
    offset = np.abs(xy[:, 0] - 2.0)
    ways = np.hypot(cross, 0.4) / 0.13 + np.hypot(offset[:, None] - cross, 0.5) / 0.08
    image = migrate_2d(line(xy, 2 * ways.min(axis=1)), INTERVAL, 0.0, model, DEPTH_M, 0.05)
    post, level = np.unravel_index(envelope(image).argmax(), image.shape)
    assert 0.05 * post == pytest.approx(2.0, abs=0.05)
    assert DEPTH_M[level] == pytest.approx(0.9, abs=0.25 * 0.08 / FREQUENCY)


def test_walking_a_line_twice_changes_nothing():
    """Each trace counts by the ground it stands for: a second pass over one line leaves the 3D image as it is."""
    lines = [line(walk(c), time_to(walk(c), 1.9, 1.0, 0.7, 0.0)) for c in np.arange(0, 2.01, 0.1)]
    grid, level = Grid(0, 0, 0.05, 41, 81), np.arange(0.4, 1.0, 0.02)
    once, _ = migrate_3d(lines, INTERVAL, 0.0, CONSTANT, grid, level)
    again, _ = migrate_3d([*lines, lines[8]], INTERVAL, 0.0, CONSTANT, grid, level)
    assert np.abs(again - once).max() < 0.01 * np.abs(once).max()


def test_plane_dipping_across_the_lines_images_at_its_true_dip_in_3d():
    """A plane that dips 25 degrees, 40 degrees off the lines, stands at its true depth and slope after 3D migration."""
    dip, bearing = math.radians(25.0), math.radians(40.0)
    run = np.array([math.cos(bearing), math.sin(bearing)])
    lines = []
    for c in np.arange(0, 3.01, 0.1):
        xy = walk(c, length=3.0)
        distance = (0.5 + xy @ run * math.tan(dip)) * math.cos(
            dip
        )  # the normal from the surface to the plane
        lines.append(line(xy, 2 * distance / V))
    grid, level = Grid(0, 0, 0.05, 61, 61), np.arange(0.4, 2.4, 0.02)
    image, _ = migrate_3d(lines, INTERVAL, 0.0, CONSTANT, grid, level)
    envelope_in_place(image)
    part = np.s_[20:36, 20:36]
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    depth = level[image.argmax(axis=0)][part]
    design = np.stack([x[part].ravel(), y[part].ravel(), np.ones(depth.size)], axis=1)
    slope_x, slope_y, top = np.linalg.lstsq(design, depth.ravel(), rcond=None)[0]
    assert math.degrees(math.atan(math.hypot(slope_x, slope_y))) == pytest.approx(25.0, abs=1.5)
    assert math.degrees(math.atan2(slope_y, slope_x)) == pytest.approx(40.0, abs=4.0)
    assert top == pytest.approx(0.5, abs=QUARTER_WAVELENGTH)
