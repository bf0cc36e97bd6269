"""What is known of a survey before its lines are judged."""

from __future__ import annotations

from dataclasses import dataclass

USUAL_VELOCITY = 0.1
"""Metres per nanosecond: what depths and wavelengths are reckoned with where nobody states a velocity."""


@dataclass(frozen=True, slots=True)
class Setup:
    """The radar, the ground and what is wanted.

    Attributes
    ----------
    frequency_mhz : float
        Nominal centre frequency, or the one that the first lines show, megahertz.
    separation_m, height_m : float
        Transmitter to receiver, 0: not known; height above the ground, metres.
    velocity_m_per_ns : float
        Metres per nanosecond.
    velocity_known : bool
        Whether somebody stated it.
    depth_m : float or None
        Depth that is wanted, metres; None: nobody said.
    placed : bool
        Whether the lines' places on the ground are known.
    line_spacing_m : float
        Usual distance between neighbouring lines, metres.
    """

    frequency_mhz: float
    separation_m: float = 0.0
    height_m: float = 0.0
    velocity_m_per_ns: float = USUAL_VELOCITY
    velocity_known: bool = False
    depth_m: float | None = None
    placed: bool = True
    line_spacing_m: float = 0.5

    @property
    def period_ns(self) -> float:
        """One period, nanoseconds."""
        return 1e3 / self.frequency_mhz

    @property
    def wavelength_m(self) -> float:
        """One wavelength in the ground, metres."""
        return self.velocity_m_per_ns * self.period_ns
