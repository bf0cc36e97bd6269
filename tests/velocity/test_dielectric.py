"""Formulas of permittivity against worked pairs of published ones (shared/trade.md 1.1 and 1.2)."""

import pytest

from gridmap.velocity.dielectric import (
    absorption_db_per_m,
    loss_tangent,
    mixture_permittivity,
    permittivity_of,
    phase_velocity,
    reflection,
    velocity_of,
    water_content,
)


@pytest.mark.parametrize(
    ("permittivity", "v"), [(4, 0.1499), (9, 0.0999), (16, 0.0749), (25, 0.06), (81, 0.0333)]
)
def test_velocity(permittivity, v):
    """v = c / sqrt(permittivity), there and back."""
    # trade.md 1.2, row "Velocity" [source: GPG Basic Principles].
    assert velocity_of(permittivity) == pytest.approx(v, abs=6e-5)
    assert permittivity_of(velocity_of(permittivity)) == pytest.approx(permittivity)


@pytest.mark.parametrize(("permittivity", "water"), [(10, 0.1883), (20, 0.3454)])
def test_topp(permittivity, water):
    """Topp's polynomial gives the published water contents."""
    # trade.md 1.2, row "Topp 1980" [source: public validation script quoting Topp 1980].
    assert water_content(permittivity) == pytest.approx(water, abs=1e-4)


@pytest.mark.parametrize(("saturation", "permittivity"), [(0, 3.186), (0.5, 8.860), (1, 17.374)])
def test_crim(saturation, permittivity):
    """Porosity 0.3, grains 4.5, water 80."""
    # trade.md 1.2, row "CRIM" [memory: Birchak 1974; Roth 1990].
    assert mixture_permittivity(0.3, saturation) == pytest.approx(permittivity, abs=5e-4)
    assert velocity_of(mixture_permittivity(0.3, 1)) == pytest.approx(0.0719, abs=5e-5)


def test_loss_and_absorption():
    """400 MHz, permittivity 9, 10 mS/m: loss tangent 0.0499, 5.452 dB/m, and 1636 sigma / sqrt(permittivity)."""
    # trade.md 1.2, rows "Loss tangent" and "Attenuation" [source: GPG].
    assert loss_tangent(400, 9, 0.01) == pytest.approx(0.0499, abs=5e-5)
    assert absorption_db_per_m(400, 9, 0.01) == pytest.approx(5.452, abs=2e-3)
    assert absorption_db_per_m(400, 9, 0.01) == pytest.approx(1636 * 0.01 / 3, rel=1e-3)
    # Row "Published example" [source: DFI]: 10.1 dB/m by the rule, 9.76 exactly.
    assert absorption_db_per_m(100, 25, 0.03) == pytest.approx(9.76, abs=0.01)


def test_sea_water():
    """100 MHz, permittivity 80, 3 S/m: 0.0170 m/ns and 278 dB/m, far from c / sqrt(80)."""
    # trade.md 1.1, "Trap" [calc there].
    assert phase_velocity(100, 80, 3.0) == pytest.approx(0.0170, abs=5e-5)
    assert absorption_db_per_m(100, 80, 3.0) == pytest.approx(278, abs=1)


@pytest.mark.parametrize(
    ("above", "below", "r"), [(4, 9, -0.2), (9, 25, -0.25), (9, 1, 0.5), (9, 80, -0.498)]
)
def test_reflection(above, below, r):
    """Reversed into slower ground, upright into a void."""
    # trade.md 1.2, row "Reflection" [source: GPG].
    assert reflection(above, below) == pytest.approx(r, abs=1e-3)
