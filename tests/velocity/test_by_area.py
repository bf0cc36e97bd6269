"""A velocity that changes across the site is said, and only then."""

import numpy as np
import pytest

from gridmap.site.records import Ground
from gridmap.velocity.by_area import area_trend
from gridmap.velocity.combine import choose_velocity
from gridmap.velocity.hyperbola import HyperbolaFits
from gridmap.velocity.profile import fit_profile, join_targets


def fits(slope, scatter=0.01, count=12, seed=0):
    """Single hyperbolas over 10 m whose log velocity grows by `slope` a metre along x."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 10, (2, count))
    v = 0.1 * np.exp(slope * (x - 5) + scatter * rng.normal(size=count))
    t = np.full(count, 14.0)
    return HyperbolaFits(
        np.arange(count), y, x, y, t, 0.5 * v * t, v, 0.01 * v, np.full(count, 0.95), np.full(count, 20),
        np.full(count, np.nan), np.full(count, np.nan), np.arange(count), np.ones(count, bool),
        ("accepted",) * count, 0.04, tuple(range(count)),
    )  # fmt: skip


def told(f):
    return area_trend(f, fit_profile(join_targets(f)))


@pytest.mark.parametrize("seed", range(8))
def test_even_ground_has_no_trend(seed):
    """Scatter of 3 percent alone earns no plane."""
    assert told(fits(0.0, scatter=0.03, seed=seed)) is None


def test_a_wet_end_is_said():
    """0.082 to 0.122 m/ns over 10 m is a warning that names the fast end."""
    f = fits(0.04)
    assert "faster near x 9" in (told(f) or "") or "faster near x 10" in (told(f) or "")
    assert any("across the site" in w for w in choose_velocity(Ground(), f).warnings)


def test_few_targets_tell_nothing():
    """Five targets are not enough."""
    assert told(fits(0.04, count=5)) is None
