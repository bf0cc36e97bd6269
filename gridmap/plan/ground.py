"""The ground before anyone has been there: ranges of permittivity and conductivity from published tables."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gridmap.errors import SiteError
from gridmap.model import LIGHT_M_PER_NS
from gridmap.plan.request import GroundAsked, Wetness
from gridmap.velocity.dielectric import absorption_db_per_m, permittivity_of, velocity_of, water_content
from gridmap.velocity.media import GPG, find_medium

_DANIELS = "Daniels 2004 (order of size, from memory)"
CONDUCTIVITY_MS_PER_M: dict[str, tuple[float, float, str]] = {
    "fresh water": (0.5, 0.5, GPG),
    "ice": (0.01, 0.01, GPG),
    "dry sand": (0.01, 0.01, GPG),
    "saturated sand": (0.1, 1, GPG),
    "limestone": (0.5, 2, GPG),
    "shale": (1, 100, GPG),
    "silt": (1, 100, GPG),
    "clay": (2, 1000, GPG),
    "granite": (0.01, 1, GPG),
    "dry clay": (1, 100, _DANIELS),
    "wet clay": (100, 1000, _DANIELS),
    "dry sandstone": (0.001, 0.1, _DANIELS),
    "wet sandstone": (0.1, 10, _DANIELS),
    "dry concrete": (1, 10, _DANIELS),
    "wet concrete": (10, 100, _DANIELS),
    "dry asphalt": (1, 10, _DANIELS),
    "wet asphalt": (10, 100, _DANIELS),
    "dry topsoil": (0.1, 1, _DANIELS),
    "wet topsoil": (10, 100, _DANIELS),
    "peat": (1, 40, "Neal 2004 (order of size, from memory)"),
}
"""Least and largest conductivity of each medium, millisiemens per metre, and where it is from."""

FAMILIES: dict[str, tuple[str, str]] = {
    "sand": ("dry sand", "saturated sand"),
    "clay": ("dry clay", "wet clay"),
    "sandstone": ("dry sandstone", "wet sandstone"),
    "concrete": ("dry concrete", "wet concrete"),
    "asphalt": ("dry asphalt", "wet asphalt"),
    "topsoil": ("dry topsoil", "wet topsoil"),
}
"""Media that wetness changes, and their driest and wettest row."""

_STEADY = ("fresh water", "ice")
_SHARE: dict[Wetness, tuple[float, float]] = {"dry": (0, 1 / 3), "moist": (1 / 3, 2 / 3), "wet": (2 / 3, 1)}
_WATER_GHZ, _WATER_STEP, _VACUUM = 17.0, 75.0, 8.8541878e-12
_DEFAULT_SD = 0.1


@dataclass(frozen=True, slots=True)
class Span:
    """Least, likely and largest value."""

    low: float
    likely: float
    high: float


@dataclass(frozen=True, slots=True)
class GroundGuess:
    """What the ground may be.

    Attributes
    ----------
    permittivity : Span
        Relative permittivity.
    conductivity_s_per_m : Span
        At direct current, siemens per metre.
    wet : bool
        Whether water in pores absorbs besides the conductivity (not so in ice).
    measured : bool
        Whether the velocity was measured on the site.
    source : str
        Where the numbers come from, one sentence.
    """

    permittivity: Span
    conductivity_s_per_m: Span
    wet: bool
    measured: bool
    source: str

    @property
    def velocity_m_per_ns(self) -> Span:
        """Slowest, likely and fastest velocity, c / sqrt(e)."""
        e = self.permittivity
        return Span(velocity_of(e.high), velocity_of(e.likely), velocity_of(e.low))

    def absorption_db_per_m(self, frequency_mhz: float) -> Span:
        """Absorption one way with least, likely and largest loss, decibels per metre (GPG; Debye for water)."""
        return Span(
            *(
                absorption_db_per_m(frequency_mhz, e, s + (water_loss(frequency_mhz, e) if self.wet else 0.0))
                for e, s in zip(_values(self.permittivity), _values(self.conductivity_s_per_m), strict=True)
            )
        )


def water_loss(frequency_mhz: float, permittivity: float) -> float:
    """Conductivity that equals the relaxation of the water in the pores, siemens per metre.

    Notes
    -----
    Free water at 20 degrees: one Debye relaxation at 17 GHz with a step of 75 in permittivity (Debye 1929; from
    memory), times the water content by Topp 1980.
    """
    share = min(max(water_content(permittivity), 0.0), 1.0)
    ratio = 1e-3 * frequency_mhz / _WATER_GHZ
    return 2e6 * math.pi * frequency_mhz * _VACUUM * share * _WATER_STEP * ratio / (1 + ratio * ratio)


def guess_ground(asked: GroundAsked) -> GroundGuess:
    """Turn medium, wetness and what was measured into ranges.

    Raises
    ------
    SiteError
        Where too little is said, the medium is unknown, or its wetness cannot be chosen; names key and fix.
    """
    if asked.medium is None and (asked.velocity_m_per_ns is None or asked.conductivity_ms_per_m is None):
        raise SiteError(
            '[ground] medium: is missing. Name the medium, such as medium = "topsoil", or give'
            " velocity_m_per_ns and conductivity_ms_per_m as measured."
        )
    e = s = None
    source = "measured"
    if asked.medium is not None:
        e, s, source = _published(asked.medium, asked.wetness)
    if asked.velocity_m_per_ns is not None:
        v = asked.velocity_m_per_ns
        sd = asked.velocity_sd_m_per_ns or _DEFAULT_SD * v
        fast, slow = min(v + 2 * sd, LIGHT_M_PER_NS), max(v - 2 * sd, v / 4)
        e = Span(permittivity_of(fast), permittivity_of(v), permittivity_of(slow))
        source = f"velocity given; conductivity from {source}" if asked.medium else "velocity given"
    if asked.conductivity_ms_per_m is not None:
        c = asked.conductivity_ms_per_m
        s = Span(c / 1.5, c, c * 1.5)
        source += "; conductivity given, a factor of 1.5 either way"
    assert e is not None
    assert s is not None
    s = Span(*(1e-3 * value for value in _values(s)))
    return GroundGuess(e, s, asked.medium != "ice", asked.velocity_m_per_ns is not None, source)


def _published(name: str, wetness: Wetness | None) -> tuple[Span, Span, str]:
    """Permittivity, millisiemens per metre, and source of a medium in a state of wetness."""
    wanted = " ".join(name.casefold().replace("_", " ").replace("-", " ").split())
    if wanted in FAMILIES and (wetness or wanted != "clay"):
        dry, wet = (_row(row) for row in FAMILIES[wanted])
        source = f"'{FAMILIES[wanted][0]}' ({dry[2]}) and '{FAMILIES[wanted][1]}' ({wet[2]})"
        if wetness in ("dry", "wet"):
            e, s, _ = dry if wetness == "dry" else wet
            return e, s, source
        inner = wetness == "moist"
        spans = []
        for of_dry, of_wet in ((dry[0], wet[0]), (dry[1], wet[1])):
            low, high = (of_dry.likely, of_wet.likely) if inner else (of_dry.low, of_wet.high)
            spans.append(Span(low, math.sqrt(of_dry.likely * of_wet.likely), high))
        return spans[0], spans[1], source
    try:
        medium = find_medium(wanted)
    except SiteError as error:
        raise SiteError(f"{error} With a wetness also: {', '.join(FAMILIES)}.") from None
    e, s, source = _row(medium.name)
    if wetness is None:
        return e, s, f"'{medium.name}' ({source})"
    if medium.name in _STEADY or any(medium.name in rows for rows in FAMILIES.values()):
        family = next((f for f, rows in FAMILIES.items() if medium.name in rows), None)
        fix = f'Write medium = "{family}" and keep the wetness' if family else "Leave wetness out"
        raise SiteError(f"[ground] wetness: '{medium.name}' says already how wet it is. {fix}.")
    return _part(e, wetness), _part(s, wetness), f"'{medium.name}', its {wetness} third ({source})"


def _row(name: str) -> tuple[Span, Span, str]:
    medium = find_medium(name)
    low, high, source = CONDUCTIVITY_MS_PER_M[name]
    e = permittivity_of(medium.velocity_m_per_ns)
    return (
        Span(min(medium.permittivity_low, e), e, max(medium.permittivity_high, e)),
        Span(low, math.sqrt(low * high), high),
        medium.source if medium.source == source else f"{medium.source}; {source}",
    )


def _part(span: Span, wetness: Wetness) -> Span:
    """Cut the dry, middle or wet third out of a range, in equal ratios."""
    ratio = span.high / span.low
    low, high = (span.low * ratio**share for share in _SHARE[wetness])
    return Span(low, math.sqrt(low * high), high)


def _values(span: Span) -> tuple[float, float, float]:
    return span.low, span.likely, span.high
