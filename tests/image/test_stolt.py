"""Stolt migration by itself, against Kirchhoff, and against formulas."""

import math

import numpy as np
import pytest

from gridmap.image.envelope import envelope
from gridmap.image.migrate import envelope_in_place, migrate_2d, migrate_3d, plan_2d
from gridmap.image.stolt import migrate_stolt
from gridmap.model import CleanLine, Grid, VelocityModel

V, INTERVAL, SAMPLES, FREQUENCY, CELL = 0.1, 0.2, 250, 0.3, 0.05
QUARTER_WAVELENGTH = 0.25 * V / FREQUENCY
DEPTH_M = np.arange(0, 1.5, 0.02)
X = CELL * np.arange(81)


def records(arrival_ns):
    """Ricker echoes (..., sample) at `arrival_ns`."""
    a = (math.pi * FREQUENCY * (INTERVAL * np.arange(SAMPLES) - np.asarray(arrival_ns)[..., None])) ** 2
    return ((1 - 2 * a) * np.exp(-a)).astype(np.float32)


def image_2d(arrival_ns, **more):
    return migrate_stolt(records(arrival_ns)[None], (CELL, CELL), INTERVAL, V, DEPTH_M, **more)[:, 0].T


def as_lines(cube):
    """Rows of a cube as lines along x, a cell apart."""
    return [
        CleanLine(
            str(k), np.stack([X, np.full_like(X, CELL * k)], axis=1), X, part, np.ones(len(X), bool), 0.0
        )
        for k, part in enumerate(cube)
    ]


def test_flat_reflector_is_unmoved_and_keeps_its_amplitude():
    """Flat event unmoved (trade.md 1.4, Stolt): 12 ns at 0.1 m/ns is 0.60 m."""
    image = image_2d(np.full(81, 12.0))
    assert DEPTH_M[envelope(image).argmax(axis=1)][20:60] == pytest.approx(0.6, abs=0.011)
    assert image[40].max() == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("separation", [0.0, 0.16])
def test_point_collapses_at_its_apex(separation):
    """A point hyperbola collapses at its apex (trade.md 1.4), antennas apart or together (trade.md 1.3)."""
    legs = [np.hypot(X - 2.0 + s * separation, 0.8) for s in (-0.5, 0.5)]
    strength = envelope(image_2d((legs[0] + legs[1]) / V, separation_m=separation))
    column, level = np.unravel_index(strength.argmax(), strength.shape)
    assert X[column] == pytest.approx(2.0, abs=0.01)
    assert DEPTH_M[level] == pytest.approx(0.8, abs=0.5 * QUARTER_WAVELENGTH)


@pytest.mark.parametrize("true_dip_deg", [15.0, 35.0])
def test_dipping_reflector_images_at_its_true_dip(true_dip_deg):
    """tan(apparent) = sin(true) before migration (trade.md 1.3, Yilmaz [memory]), the true dip after."""
    image = image_2d(2 * (X - 0.5).clip(0) * math.sin(math.radians(true_dip_deg)) / V, angle_deg=60.0)
    columns = np.arange(28, 44)
    level = DEPTH_M[envelope(image).argmax(axis=1)][columns]
    assert math.degrees(math.atan(np.polyfit(X[columns], level, 1)[0])) == pytest.approx(
        true_dip_deg, abs=1.5
    )


def likeness(a, b):
    return float((a * b).sum() / np.sqrt((a * a).sum() * (b * b).sum()))


@pytest.mark.parametrize(
    ("arrival_ns", "least"), [(2 * np.hypot(X - 2.0, 0.7) / V, 0.95), (np.full(81, 14.0), 0.99)]
)
def test_stolt_and_kirchhoff_agree_in_2d(arrival_ns, least):
    """Two methods by other formulas give the same signed section of a point and of a layer, pulse shape included."""
    cube = records(arrival_ns)
    stolt = image_2d(arrival_ns)
    [walked] = as_lines(cube[None])
    plan = plan_2d([walked], INTERVAL, 0.0, VelocityModel.constant(V, 0, ""), DEPTH_M, CELL)
    kirchhoff = migrate_2d([walked], plan)[0]
    inner = np.s_[12:-12, 10:]
    assert likeness(stolt[inner], kirchhoff[inner]) > least


def test_stolt_and_kirchhoff_agree_in_3d():
    """A point below a regular grid: both put it within a quarter wavelength of its place, and look alike."""
    x0, y0, depth = 2.1, 1.1, 0.7
    y = CELL * np.arange(45)
    slant = np.sqrt((X - x0) ** 2 + (y[:, None] - y0) ** 2 + depth**2)
    cube = records(2 * slant / V) / slant[..., None].astype(np.float32)
    level = DEPTH_M[20:60]
    stolt = migrate_stolt(cube, (CELL, CELL), INTERVAL, V, DEPTH_M)[20:60]
    grid = Grid(0.0, 0.0, CELL, len(y), len(X))
    kirchhoff, _ = migrate_3d(as_lines(cube), INTERVAL, 0.0, VelocityModel.constant(V, 0, ""), grid, level)
    assert likeness(stolt, kirchhoff) > 0.9
    for image in (stolt, kirchhoff):
        strength = np.array(image)
        envelope_in_place(strength)
        k, row, column = np.unravel_index(strength.argmax(), strength.shape)
        assert [X[column], y[row], level[k]] == pytest.approx([x0, y0, depth], abs=QUARTER_WAVELENGTH / 2)
