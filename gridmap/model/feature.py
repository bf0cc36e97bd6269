"""What was found in the ground: lines, outlines and points, each with depth, size and how sure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from gridmap.model.arrays import Float64

Polarity = Literal["same", "reversed", "unclear"]
"""How the echo begins: "same" as the direct wave (faster below: a void), "reversed" against it (metal, slower)."""


@dataclass(frozen=True, slots=True)
class LinearFeature:
    """A pipe, cable, drain, wall or edge: something long and narrow.

    Attributes
    ----------
    xyz_m : (vertex, 3) float64
        Local x, y and depth to the top below the ground, metres, along its length.
    depth_sd_m : float
        One standard deviation of the depth to the top, from velocity and pick, metres.
    width_m : float or None
        Apparent width; None where the data support none.
    strength : float
        How many times it stands above the ground around it.
    confidence : float
        0 to 1: the share of features called so that are real (docs say on which ground it was calibrated).
    crossings : int
        Lines whose own traces show it (a hyperbola or diffraction where it crosses them).
    polarity : Polarity
        Sign of its echo.
    note : str
        What may matter to whoever acts on it, in plain words.
    """

    xyz_m: Float64
    depth_sd_m: float
    width_m: float | None
    strength: float
    confidence: float
    crossings: int
    polarity: Polarity
    note: str = ""


@dataclass(frozen=True, slots=True)
class OutlineFeature:
    """A tank, slab, pit, grave or void: something with an area.

    Attributes
    ----------
    ring_m : (vertex, 2) float64
        Local x, y of its edge, metres; not closed (the last vertex is not the first).
    depth_top_m, depth_sd_m : float
        Depth to the top below the ground and one standard deviation, metres.
    thickness_m : float or None
        Top to base; None where the base does not show.
    length_m, width_m : float
        Sides of its smallest rectangle, metres, the longer first.
    bearing_deg : float
        Direction of the longer side, degrees anticlockwise from local x, in [0, 180).
    strength, confidence, note, polarity
        As for `LinearFeature`.
    """

    ring_m: Float64
    depth_top_m: float
    depth_sd_m: float
    thickness_m: float | None
    length_m: float
    width_m: float
    bearing_deg: float
    strength: float
    confidence: float
    note: str = ""
    polarity: Polarity = "unclear"


@dataclass(frozen=True, slots=True)
class PointFeature:
    """Something small that is neither long nor wide; fields as for `LinearFeature`, one place."""

    xyz_m: Float64
    depth_sd_m: float
    strength: float
    confidence: float
    note: str = ""
    polarity: Polarity = "unclear"


@dataclass(frozen=True, slots=True)
class RejectedCandidate:
    """A candidate that did not become a feature, and why.

    Attributes
    ----------
    kind : "linear", "outline" or "point"
        What it would have been.
    xyz_m : (vertex, 3) float64
        Its path, ring or place; depth positive down, metres.
    reason : str
        Plain words, such as "runs along a single line: stripe".
    """

    kind: Literal["linear", "outline", "point"]
    xyz_m: Float64
    reason: str


@dataclass(frozen=True, slots=True)
class Features:
    """All that was found in one survey, surest first within each kind."""

    linear: tuple[LinearFeature, ...] = ()
    outlines: tuple[OutlineFeature, ...] = ()
    points: tuple[PointFeature, ...] = ()
    rejected: tuple[RejectedCandidate, ...] = ()
