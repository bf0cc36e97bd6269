"""Evidence of the velocity as pictures: hyperbolas where the echoes are, the focus where it peaks."""

import numpy as np
import pytest
from PIL import Image

from gridmap.deliver import drawing
from gridmap.deliver.radargram import plot_box, time_to_row
from gridmap.deliver.velocity_pictures import draw_focus, draw_hyperbolas, write_velocity_pictures
from gridmap.model import CleanLine
from gridmap.site.records import Antenna, Ground
from gridmap.velocity.combine import choose_velocity
from gridmap.velocity.evidence import VelocityEvidence
from gridmap.velocity.focusing import VELOCITIES, FocusWindow
from gridmap.velocity.hyperbola import HyperbolaFits
from gridmap.velocity.surface import straight_rays

ANTENNA = Antenna(300.0, 0.16)
T0 = 14.0


@pytest.fixture(scope="module")
def evidence():
    n = 4
    fits = HyperbolaFits(
        np.arange(n), np.full(n, 2.0), np.zeros(n), np.zeros(n), np.full(n, T0), np.full(n, 0.7), np.full(n, 0.1),
        np.full(n, 0.002), np.full(n, 0.95), np.full(n, 20), np.full(n, np.nan), np.full(n, np.nan), np.arange(n),
        np.ones(n, bool), ("accepted",) * n, 0.04, tuple(range(n)),
    )  # fmt: skip
    focus = (
        FocusWindow("whole", 5, 40, np.exp(-(((np.log(VELOCITIES / 0.1)) / 0.2) ** 2)), 0.1, 0.004, 20, 14.0),
    )
    return VelocityEvidence(choose_velocity(Ground(), fits), fits, tuple("abcd"), (), focus)


def lines():
    along = np.arange(0.0, 4.0, 0.05)
    noise = np.random.default_rng(0).normal(size=(4, len(along), 200)).astype(np.float32)
    xy = np.stack([along, np.zeros_like(along)], axis=1)
    return [
        CleanLine(name, xy, along, noise[k], np.ones(len(along), bool), 0.0) for k, name in enumerate("abcd")
    ]


def test_the_curve_is_drawn_where_the_echo_is(evidence):
    """Half a metre off the apex the drawn curve stands at the two-leg time of a pipe of 4 cm radius."""
    # Cylinder of radius r, top h (trade.md 1.3): 2/v (sqrt(x^2 + (h + r)^2) - r), here with separation.
    image = np.asarray(
        draw_hyperbolas(lines()[0], 0, 0.2, ANTENNA, evidence, straight_rays(), "site, line a")
    ).astype(int)
    left, top, right, bottom = plot_box()
    legs = np.hypot(0.5 + np.array([-0.08, 0.08]), 0.74)
    row = float(time_to_row((legs.sum() - 0.08) / 0.1, 0.0, 0.2 * 199, top, bottom))
    column = round(left + 2.5 / 3.95 * (right - left))
    drawn = np.flatnonzero((image[top:bottom, column] == drawing.OUTLINE).all(axis=1)) + top
    assert drawn.size
    assert abs(drawn.mean() - row) < 4


def test_focus_has_its_peak_at_its_velocity(evidence):
    """The highest point of the thick curve lies between the ticks of 0.09 and 0.11 m/ns."""
    image = np.asarray(draw_focus(evidence.focus, evidence.velocity, "site")).astype(int)
    rows, columns = np.nonzero((image[101:150, 72:955] == drawing.INK).all(axis=2))
    at = columns[rows == rows.min()].mean() / (960 - 70)
    v = 0.05 * (0.18 / 0.05) ** at
    assert 0.09 < v < 0.11


def test_files(evidence, tmp_path):
    """Three lines and the focus are written, readable by another library."""
    write_velocity_pictures(tmp_path / "velocity", lines(), 0.2, ANTENNA, evidence, "site")
    names = sorted(p.name for p in (tmp_path / "velocity").iterdir())
    assert names == ["focusing.png", "hyperbolas_a.png", "hyperbolas_b.png", "hyperbolas_c.png"]
    assert all(Image.open(tmp_path / "velocity" / n).size[0] >= 1000 for n in names)
