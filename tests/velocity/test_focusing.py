"""Focusing scan on lines with diffractions of known velocity."""

import numpy as np
import pytest

from gridmap.model import CleanLine
from gridmap.site.records import Antenna, Ground
from gridmap.velocity.combine import choose_velocity
from gridmap.velocity.focusing import VELOCITIES, focusing_scan
from gridmap.velocity.surface import straight_rays

ANTENNA = Antenna(300.0, 0.16)
INTERVAL = 0.2


def survey(v, slope=0.0, noise=0.02, seed=0, rods=((1.0, 0.5), (2.3, 0.8), (3.3, 1.1))):
    """Five lines along x, half a metre apart, over rods (place at y = 0, depth) that run at `slope` across them."""
    # Two straight legs through even ground (trade.md 1.3, row "Separation S"), a Ricker pulse on each arrival.
    rng = np.random.default_rng(seed)
    x, t = np.arange(0.0, 4.5, 0.05), INTERVAL * np.arange(260)
    squeeze = 1.0 / np.hypot(1.0, slope)
    lines = []
    for k in range(5):
        traces = noise * rng.normal(size=(len(x), len(t)))
        for place, depth in rods:
            d = (x - place - slope * 0.5 * k) * squeeze
            legs = [np.hypot(d + s * 0.08 * squeeze, depth) for s in (-1, 1)]
            a = (np.pi * 0.3 * (t - (sum(legs) / v)[:, None])) ** 2
            traces += (1 - 2 * a) * np.exp(-a) * np.exp(-((d / (1.2 * depth)) ** 2))[:, None]
        lines.append(
            CleanLine(
                f"L{k}",
                np.stack([x, np.full(len(x), 0.5 * k)], 1),
                x,
                traces.astype(np.float32),
                np.ones(len(x), bool),
                0.0,
            )
        )
    return lines


@pytest.mark.parametrize("v", [0.08, 0.11])
def test_the_ground_is_found(v):
    """Rods focus at the velocity that drew them, within 4 percent, and the truth lies within two deviations."""
    whole = focusing_scan(survey(v), INTERVAL, ANTENNA, straight_rays())[0]
    assert whole.velocity_m_per_ns == pytest.approx(v, rel=0.04)
    assert abs(whole.velocity_m_per_ns - v) < 2 * whole.sd_m_per_ns
    assert VELOCITIES[whole.curve.argmax()] == pytest.approx(v, rel=0.06)


def test_slanting_rods_do_not_speed_up_the_ground():
    """Rods crossed at 35 degrees, which read 22 percent fast line by line, stay within 6 percent."""
    whole = focusing_scan(survey(0.09, np.tan(np.radians(35))), INTERVAL, ANTENNA, straight_rays())[0]
    assert whole.velocity_m_per_ns == pytest.approx(0.09, rel=0.06)


def test_noise_focuses_nowhere():
    """White noise gives no velocity."""
    lines = survey(0.1, noise=1.0, rods=())
    assert np.isnan(focusing_scan(lines, INTERVAL, ANTENNA, straight_rays())[0].velocity_m_per_ns)


def test_focus_decides_where_hyperbolas_are_too_few():
    """Without hyperbolas the focus is the basis, said in words, and vaguer than 3 percent."""
    choice = choose_velocity(
        Ground(), None, (), focusing_scan(survey(0.09), INTERVAL, ANTENNA, straight_rays())
    )
    assert choice.basis == "focusing"
    assert choice.model.mean_m_per_ns() == pytest.approx(0.09, rel=0.05)
    assert choice.model.sd_m_per_ns > 0.03 * 0.09
    assert "focus" in " ".join(choice.evidence)
