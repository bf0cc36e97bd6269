"""What is sought, as a reflector: contrast with the ground, and how much of the wave it sends back."""

from __future__ import annotations

import difflib
import math

from gridmap.errors import SiteError
from gridmap.plan.request import Shape, Sought
from gridmap.velocity.dielectric import reflection

MATERIALS: dict[str, float | None] = {
    "metal": None,
    "air": 1.0,
    "plastic with air": 1.0,
    "plastic with water": 80.0,
    "water": 80.0,
    "brick": 3.75,
    "concrete": 6.3,
    "stone": 6.0,
    "clay": 25.0,
    "dry sand": 4.0,
    "bedrock": 6.0,
}
"""Relative permittivity inside; None: a conductor. Concrete and others: middle of ranges in Daniels 2004; brick: ITU-R
P.2040. A thin plastic wall counts for nothing against what fills the pipe."""

CLEAR_REFLECTION = 0.1
"""Amplitude; a power of 0.01 is the published least for a clear target (Annan 2005; from memory)."""
LEAST_REFLECTION = 0.03
"""Amplitude: permittivity of natural ground varies by some 4 %, which sends back a quarter of that, 0.01; an echo under
three times as much is lost among the ground's own (common practice)."""


def find_material(name: str) -> str:
    """Return the name of a known material, whatever its case.

    Raises
    ------
    SiteError
        Where there is none; lists all.
    """
    wanted = " ".join(name.casefold().replace("_", " ").replace("-", " ").split())
    if wanted in MATERIALS:
        return wanted
    near = difflib.get_close_matches(wanted, MATERIALS, 1, 0.6)
    hint = f"Did you mean '{near[0]}'? " if near else ""
    raise SiteError(
        f"[sought] material = {name!r}: is not known. {hint}Known materials: {', '.join(MATERIALS)}."
    )


def contrast(sought: Sought, ground_permittivity: float) -> float:
    """Reflection coefficient straight down of a target's face in the ground, -1 to 1 (GPG)."""
    inside = MATERIALS[sought.material] if sought.permittivity is None else sought.permittivity
    return -1.0 if inside is None else reflection(ground_permittivity, inside)


def echo_area_m2(shape: Shape, metal: bool, size_m: float, depth_m: float, wavelength_m: float) -> float:
    """Scattering cross-section of a perfect reflector of this shape and size, square metres.

    Parameters
    ----------
    shape : "line", "body" or "layer"
        As `Sought`.
    metal : bool
        Whether it conducts: thin wires still scatter well, thin cavities do not.
    size_m, depth_m, wavelength_m : float
        As `Sought`; wavelength in the ground.

    Notes
    -----
    Geometric optics: a plane at d has pi d^2, a sphere of radius a has pi a^2, a cylinder pi a d in between (from
    memory, Balanis 1989); none more than the plane. A body under one wavelength around (2 pi a < w) loses
    (2 pi a / w)^4, Rayleigh's law, a cylinder that does not conduct the cube; a layer under w / 4 loses (4 h / w)^2
    (from memory).
    """
    a = min(size_m / 2, depth_m)
    around = min(1.0, math.pi * size_m / wavelength_m)
    if shape == "layer":
        return math.pi * depth_m**2 * min(1.0, 4 * size_m / wavelength_m) ** 2
    if shape == "line":
        return math.pi * a * depth_m * (1.0 if metal else around**3)
    return math.pi * a**2 * around**4
