"""Published velocities of media: a first guess with a wide deviation, never a measurement."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass

from gridmap.errors import SiteError
from gridmap.model import LIGHT_M_PER_NS, VelocityModel

GPG = "Geophysics for Practicing Geoscientists, table of velocities (open textbook, 2025)"
DANIELS = "Daniels, Ground Penetrating Radar, 2nd ed. 2004 (range from memory)"
NEAL = "Neal 2004, Earth-Science Reviews 66:261 (range from memory)"


@dataclass(frozen=True, slots=True)
class Medium:
    """A kind of ground.

    Attributes
    ----------
    name : str
        As the site file names it, lower case.
    permittivity_low, permittivity_high : float
        Published range of relative permittivity.
    published_m_per_ns : float or None
        Published typical velocity, metres per nanosecond; None: the source gives the range only.
    source : str
        Where the numbers come from.
    """

    name: str
    permittivity_low: float
    permittivity_high: float
    published_m_per_ns: float | None
    source: str

    @property
    def range_m_per_ns(self) -> tuple[float, float]:
        """Slowest and fastest velocity of the permittivity range, v = c / sqrt(permittivity)."""
        return (
            LIGHT_M_PER_NS / math.sqrt(self.permittivity_high),
            LIGHT_M_PER_NS / math.sqrt(self.permittivity_low),
        )

    @property
    def velocity_m_per_ns(self) -> float:
        """Published velocity; without one, that of the middle permittivity (geometric mean of the range)."""
        if self.published_m_per_ns is not None:
            return self.published_m_per_ns
        return LIGHT_M_PER_NS / math.sqrt(math.sqrt(self.permittivity_low * self.permittivity_high))

    @property
    def sd_m_per_ns(self) -> float:
        """Half of the way to the farther end of the range (taken as two deviations), 5 percent at least."""
        slow, fast = self.range_m_per_ns
        v = self.velocity_m_per_ns
        return max(0.5 * max(v - slow, fast - v), 0.05 * v)


MEDIA: tuple[Medium, ...] = (
    Medium("fresh water", 80, 80, 0.033, GPG),
    Medium("ice", 3, 4, 0.16, GPG),
    Medium("dry sand", 3, 5, 0.15, GPG),
    Medium("saturated sand", 20, 30, 0.06, GPG),
    Medium("limestone", 4, 8, 0.12, GPG),
    Medium("shale", 5, 15, 0.09, GPG),
    Medium("silt", 5, 30, 0.07, GPG),
    Medium("clay", 5, 40, 0.06, GPG),
    Medium("granite", 4, 6, 0.13, GPG),
    Medium("dry clay", 2, 6, None, DANIELS),
    Medium("wet clay", 15, 40, None, DANIELS),
    Medium("dry sandstone", 2, 5, None, DANIELS),
    Medium("wet sandstone", 5, 10, None, DANIELS),
    Medium("dry concrete", 4, 10, None, DANIELS),
    Medium("wet concrete", 10, 20, None, DANIELS),
    Medium("dry asphalt", 2, 4, None, DANIELS),
    Medium("wet asphalt", 6, 12, None, DANIELS),
    Medium("dry topsoil", 4, 6, None, DANIELS),
    Medium("wet topsoil", 10, 30, None, DANIELS),
    Medium("peat", 57, 80, None, NEAL),
)
"""Sea water is not here: no echo comes back through it."""


def find_medium(name: str) -> Medium:
    """Look a medium up by name, whatever the case, hyphens or underscores.

    Parameters
    ----------
    name : str
        Such as "dry sand".

    Raises
    ------
    SiteError
        If there is none of that name; the message says which is nearest and lists all.
    """
    wanted = " ".join(name.casefold().replace("_", " ").replace("-", " ").split())
    known = {medium.name: medium for medium in MEDIA}
    if wanted in known:
        return known[wanted]
    near = [n for n in known if wanted and wanted in n] or difflib.get_close_matches(wanted, known, 3, 0.5)
    hint = f"Did you mean {' or '.join(repr(n) for n in near[:3])}? " if near else ""
    raise SiteError(f"[ground] medium: {name!r} is not known. {hint}Known media: {', '.join(known)}.")


def medium_velocity(name: str) -> VelocityModel:
    """Velocity model of a named medium: one layer, with the deviation its published range asks for.

    Raises
    ------
    SiteError
        If there is no such medium.
    """
    medium = find_medium(name)
    return VelocityModel.constant(
        medium.velocity_m_per_ns, medium.sd_m_per_ns, f"medium '{medium.name}' from {medium.source}"
    )
