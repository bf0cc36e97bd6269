"""Outlines in volumes and lines painted by hand."""

import numpy as np
import shapely
from scipy import ndimage

from gridmap.features.ground import Ground
from gridmap.features.outline import find_outlines
from gridmap.features.outline_regions import FAINTEST, peaks
from gridmap.model import CleanLine, Grid, VelocityModel, Volume

CELL_M, STEP_M, INTERVAL_NS, V, MHZ = 0.05, 0.025, 0.2, 0.1, 300.0
GRID = Grid(0.0, 0.0, CELL_M, 91, 91)


def paint(plate, depth_m, strength, seed=1):
    """Volume and lines of a plate amid clutter: an echo of a fifth of a metre at its depth, blurred in plan."""
    rng = np.random.default_rng(seed)
    shape = (60, *GRID.shape)
    clutter = sum(ndimage.gaussian_filter(rng.normal(size=shape), (3, 2, 2)) ** 2 for _ in range(2))
    ground = np.sqrt(clutter / clutter.mean())
    x, y = np.meshgrid(GRID.x_m(), GRID.y_m())
    form = ndimage.gaussian_filter(shapely.contains_xy(plate, x, y).astype(float), 2.5)
    z = STEP_M * np.arange(60)
    values = np.hypot(ground, strength * form * np.exp(-0.5 * ((z - depth_m) / 0.06) ** 2)[:, None, None])
    lines, t = [], INTERVAL_NS * np.arange(200)
    a = (np.pi * (t - 2 * depth_m / V) * MHZ * 1e-3) ** 2
    ricker = (1 - 2 * a) * np.exp(-a)
    for k in range(19):
        xy = np.stack([np.full(91, 0.25 * k), 0.05 * np.arange(91)], axis=1)
        echo = shapely.contains_xy(plate, xy)[:, None] * ricker
        traces = ndimage.gaussian_filter(rng.normal(size=(91, 200)), (3, 3))
        traces = (traces / traces.std() - strength * echo).astype(np.float32)
        lines.append(CleanLine(f"L{k}", xy, 0.05 * np.arange(91), traces, np.ones(91, bool), 0.0))
    volume = Volume(
        values.astype(np.float32), GRID, "depth", 0.0, STEP_M, "envelope of the echo after 3D migration"
    )
    return volume, lines


def find(volume, lines):
    velocity = VelocityModel.constant(V, 0.004, "test")
    return find_outlines(Ground(volume, lines, INTERVAL_NS, velocity, MHZ, 0.25), 0.25)


def test_plate_is_outlined_at_its_depth():
    """A plate echoes from its flat top alone: one depth, seen on every line that crosses it."""
    plate = shapely.affinity.rotate(shapely.box(1.4, 1.7, 3.0, 2.7), 20)
    outlines, _ = find(*paint(plate, 0.8, 8.0))
    best = outlines[0]
    ring = shapely.Polygon(best.ring_m)
    assert ring.intersection(plate).area / ring.union(plate).area > 0.85
    assert abs(best.depth_top_m - 0.8) < 0.03
    assert best.confidence > 0.8
    assert all(f.confidence < 0.5 for f in outlines[1:])


def test_pipe_is_no_outline():
    """What is narrower than the resolution has no outline."""
    outlines, rejected = find(*paint(shapely.box(0.5, 2.2, 4.0, 2.3), 0.8, 20.0))
    assert all(f.confidence < 0.5 for f in outlines)
    assert any("a line" in r.reason for r in rejected)


def test_peaks_are_those_of_all_slabs_at_once():
    """Looked for some slabs at a time, also where one block of slabs meets the next."""
    values = np.random.default_rng(3).gamma(2.0, 1.5, (19, 30, 40)).astype(np.float32)
    whole = (values > FAINTEST) & (values == ndimage.maximum_filter(values, (3, 5, 5)))
    np.testing.assert_array_equal(peaks(values, 5), whole)


def test_empty_ground_gives_no_outline():
    """Clutter alone is not called a body."""
    outlines, _ = find(*paint(shapely.box(-9, -9, -8, -8), 0.8, 5.0))
    assert all(f.confidence < 0.5 for f in outlines)
