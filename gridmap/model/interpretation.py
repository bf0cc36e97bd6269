"""What a person said of features, kept apart from what the machine found."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, Literal, TypeVar

from gridmap.model.feature import LinearFeature, OutlineFeature, PointFeature, RejectedCandidate

if TYPE_CHECKING:
    import shapely

Status = Literal["found", "accepted", "rejected", "drawn"]
"""found by the machine; accepted or rejected by a person; drawn, or drawn anew, by a person."""
STATUSES: tuple[Status, ...] = ("found", "accepted", "rejected", "drawn")
Kind = Literal["linear", "outline", "point"]
UNKNOWN = "unknown"
"""Class of a feature of which nobody said what it is."""

F = TypeVar("F")
"""LinearFeature, OutlineFeature, PointFeature or RejectedCandidate."""


@dataclass(frozen=True, slots=True)
class Said:
    """What a person said of one feature.

    Attributes
    ----------
    status : Status
        See `Status`.
    note, by, when : str
        In the person's own words; empty where nothing was said.
    class_name : str
        What it is, such as "water" or "sewer"; `UNKNOWN` where nobody said.
    quality_level : str
        As a licensed person set it; empty where nobody did.
    depth_m : float or None
        Depth to the top that a person knows, such as from a trial hole, metres; None where nobody does.
    extra : tuple of (str, object)
        Columns that a person added, by name.
    """

    status: Status = "found"
    note: str = ""
    by: str = ""
    when: str = ""
    class_name: str = UNKNOWN
    quality_level: str = ""
    depth_m: float | None = None
    extra: tuple[tuple[str, object], ...] = ()


@dataclass(frozen=True, slots=True)
class OldRow:
    """One row of an earlier features.gpkg, as it stands after a person worked on it.

    Attributes
    ----------
    kind : Kind
        What it is.
    id : str
        Its identity; empty for a new one.
    shape : shapely geometry
        In plan, map metres.
    depth_m : float
        Depth to the top as written there, metres; NaN where nothing is written.
    said : Said
        What a person said.
    own_shape : bool
        True where the shape is a person's: drawn, or moved.
    candidate : bool
        True where it stands among the candidates that were not believed.
    found_shape, found_depth_m : shapely geometry or None, float
        In plan, map metres, and depth, metres, as the machine found it; None and NaN where it did not.
    """

    kind: Kind
    id: str
    shape: shapely.Geometry
    depth_m: float
    said: Said
    own_shape: bool
    candidate: bool = False
    found_shape: shapely.Geometry | None = None
    found_depth_m: float = math.nan

    @property
    def touched(self) -> bool:
        """Say whether a person had a hand in it."""
        return self.own_shape or self.said != (Said("rejected") if self.candidate else Said())


@dataclass(frozen=True, slots=True)
class Listed(Generic[F]):
    """A feature with its identity and what a person said of it.

    Attributes
    ----------
    id : str
        Stable from run to run.
    feature : LinearFeature, OutlineFeature, PointFeature or RejectedCandidate
        What the machine measured; local metres.
    said : Said
        What a person said.
    shape : shapely geometry or None
        In plan, map metres, where a person's shape stands instead of the machine's.
    remark : str
        What became of it in this run, in words; empty where nothing is to be said.
    found_shape, found_depth_m : shapely geometry or None, float
        In plan, map metres, and depth, metres, as the machine found it in this run or in an earlier one.
    """

    id: str
    feature: F
    said: Said = Said()
    shape: shapely.Geometry | None = None
    remark: str = ""
    found_shape: shapely.Geometry | None = None
    found_depth_m: float = math.nan


@dataclass(frozen=True, slots=True)
class Interpretation:
    """All features with identities, the machine's and a person's, surest first within each kind."""

    linear: tuple[Listed[LinearFeature], ...] = ()
    outlines: tuple[Listed[OutlineFeature], ...] = ()
    points: tuple[Listed[PointFeature], ...] = ()
    rejected: tuple[Listed[RejectedCandidate], ...] = ()
