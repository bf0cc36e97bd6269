"""Which antenna to carry, and whether the target can be seen at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from gridmap.plan.budget import reach_m
from gridmap.plan.formulas import resolving_frequency_mhz, wavelength_m
from gridmap.plan.ground import GroundGuess, Span
from gridmap.plan.request import AntennaAtHand, Sought
from gridmap.plan.target import CLEAR_REFLECTION, LEAST_REFLECTION, contrast

Answer = Literal["yes", "perhaps", "no"]

USUAL_DETAIL_M = 0.1
"""Detail wanted of large things where the surveyor does not say (common practice)."""
DEPTH_TO_SIZE = 10.0
"""A target deeper than ten times its size is hard to see (Annan 2005; from memory)."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The antenna proposed.

    Attributes
    ----------
    antenna : AntennaAtHand
        The one to carry.
    reach_m : Span
        Its reach for this target, metres.
    others : tuple of (AntennaAtHand, Span)
        Reach of all antennas at hand, from low to high frequency.
    wanted_mhz : float
        Least frequency that resolves the detail and clears the direct wave.
    """

    antenna: AntennaAtHand
    reach_m: Span
    others: tuple[tuple[AntennaAtHand, Span], ...]
    wanted_mhz: float


def detail_m(sought: Sought) -> float:
    """Distance to be told apart, metres: as asked, else the size, 0.1 m at most."""
    return sought.detail_m or min(sought.size_m, USUAL_DETAIL_M)


def choose_antenna(
    sought: Sought, ground: GroundGuess, antennas: Sequence[AntennaAtHand], performance_db: float
) -> Choice:
    """Choose the finest antenna that is still needed and surely reaches; where none does, the one that reaches deepest.

    Notes
    -----
    Needed: up to the lowest antenna with a quarter wavelength no longer than the detail, and one wavelength no longer
    than the depth, so that the echo comes after the direct wave (common practice). Finer ones would only ask for more
    traces. "Surely" is the low end of the reach.
    """
    ordered = sorted(set(antennas), key=lambda a: (a.frequency_mhz, -a.separation_m))
    reaches = [(a, reach_m(sought, ground, a.frequency_mhz, performance_db)) for a in ordered]
    wanted = max(
        resolving_frequency_mhz(ground.permittivity.likely, detail_m(sought)),
        wavelength_m(ground.velocity_m_per_ns.likely, 1.0) / sought.depth_m,
    )
    enough = next((a.frequency_mhz for a in ordered if a.frequency_mhz >= wanted), ordered[-1].frequency_mhz)
    useful = [(a, reach) for a, reach in reaches if a.frequency_mhz <= enough]
    sure = [pair for pair in useful if pair[1].low >= sought.depth_m]
    antenna, reach = (
        sure[-1]
        if sure
        else max(useful, key=lambda pair: (pair[1].low, pair[0].frequency_mhz, -pair[0].separation_m))
    )
    return Choice(antenna, reach, tuple(reaches), wanted)


def answer(sought: Sought, ground: GroundGuess, reach: Span) -> tuple[Answer, tuple[str, ...]]:
    """Say whether the target can be seen at its depth, and why, one sentence each.

    Parameters
    ----------
    sought : Sought
        The target.
    ground : GroundGuess
        Its range of permittivity decides on the contrast.
    reach : Span
        Of the antenna chosen, metres.

    Returns
    -------
    "yes", "perhaps" or "no"
        No: not even with good luck.
    reasons : tuple of str
        The worst first.
    """
    e = ground.permittivity
    reflections = [abs(contrast(sought, value)) for value in (e.low, e.likely, e.high)]
    same = contrast(sought, e.low) * contrast(sought, e.high) < 0
    no, perhaps = [], []
    if max(reflections) < LEAST_REFLECTION:
        no.append(
            f"{sought.material} in this ground sends back {100 * max(reflections):.0f} % of the wave at most, under the"
            f" {100 * LEAST_REFLECTION:.0f} % that is needed: it looks like the ground around it."
        )
    elif same or min(reflections) < CLEAR_REFLECTION:
        perhaps.append(
            f"{sought.material} may look like the ground around it: it sends back"
            f" {0.0 if same else 100 * min(reflections):.0f} to {100 * max(reflections):.0f} % of the wave, and under"
            f" {100 * CLEAR_REFLECTION:.0f} % is weak."
        )
    if reach.high < sought.depth_m:
        no.append(
            f"the wave is spent before {sought.depth_m:g} m: reach is {reach.likely:.2g} m"
            f" ({reach.low:.2g} to {reach.high:.2g} m)."
        )
    elif reach.low < sought.depth_m:
        perhaps.append(
            f"the reach of {reach.likely:.2g} m may be as little as {reach.low:.2g} m, less than the"
            f" {sought.depth_m:g} m wanted."
        )
    if sought.shape != "layer" and sought.depth_m > DEPTH_TO_SIZE * sought.size_m:
        perhaps.append(
            f"at {sought.depth_m:g} m it lies deeper than ten times its size of {sought.size_m:g} m, and is easily"
            " lost among stones and roots."
        )
    if no:
        return "no", tuple(no + perhaps)
    return ("perhaps", tuple(perhaps)) if perhaps else ("yes", ())
