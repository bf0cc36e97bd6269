"""The direct wave of two dipoles over ground, against closed forms."""

import json
from pathlib import Path

import numpy as np
import pytest

from gridmap.condition.nearfield import direct_wave
from gridmap.model import LIGHT_M_PER_NS

SHARED = Path(__file__).parents[2] / ".." / "shared"


def test_without_ground_it_is_the_field_of_a_dipole_in_air():
    """E = p''/r + c p'/r^2 + c^2 p/r^3 at t - r/c (Jackson 9.2 [memory]), with p'' a Ricker pulse in closed form."""
    f, r, c = 0.3, 0.2, LIGHT_M_PER_NS
    time, field = direct_wave(300.0, r, 0.05, permittivity=1.0)
    t = time - r / c
    gauss = np.exp(-((np.pi * f * t) ** 2))
    far, middle, near = (1 - 2 * (np.pi * f * t) ** 2) * gauss, t * gauss, -gauss / (2 * (np.pi * f) ** 2)
    want = far / r + c * middle / r**2 + c**2 * near / r**3
    assert field[:1500] == pytest.approx(want[:1500], abs=2e-3 * np.abs(want).max())


@pytest.mark.parametrize("permittivity", [4.0, 9.0, 25.0])
@pytest.mark.parametrize("height_m", [0.03, 0.06])
def test_far_below_resonance_the_ground_acts_as_a_static_image(permittivity, height_m):
    """At 2 MHz and 0.15 m the field is static: the image has -(e - 1)/(e + 1) (Jackson 4.4 [memory])."""
    r = 0.15
    air = np.abs(direct_wave(2.0, r, height_m, 1.0)[1]).max()
    over_ground = np.abs(direct_wave(2.0, r, height_m, permittivity)[1]).max()
    image = (permittivity - 1) / (permittivity + 1) * (r / np.hypot(r, 2 * height_m)) ** 3
    assert over_ground / air == pytest.approx(1 - image, rel=1e-3)


@pytest.mark.skipif(not SHARED.exists(), reason="the shared simulated surveys are not beside this repository")
@pytest.mark.parametrize(("name", "permittivity"), [("yard", 6.5), ("priory", 11.0), ("meadow", 10.0)])
def test_full_wave_simulation_shows_the_same_wave(name, permittivity):
    """Against the direct wave of a finite-difference simulator (clean.npz): correlation above 0.99 over 6 ns."""
    folder = SHARED / "surveys" / name
    site = json.loads((folder / "site.json").read_text())
    clean = np.load(folder / "clean.npz")
    line = next(k for k in clean.files if k + "_u" in clean.files)
    seen = np.median(clean[line].astype(float), axis=0)
    at = float(clean["dt_ns"]) * np.arange(len(seen)) - float(clean["pulse_centre_ns"])
    time, field = direct_wave(
        site["nominal_frequency_mhz"], site["antenna_separation_m"], site["antenna_height_m"], permittivity
    )
    early = np.abs(at) < 3
    assert abs(np.corrcoef(seen[early], np.interp(at[early], time, field))[0, 1]) > 0.99
