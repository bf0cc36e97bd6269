"""What a person said of an earlier run, carried over to what this run found, by identity and place."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Generic

import numpy as np
import shapely

from gridmap.features.drawn import measure_line, measure_outline, measure_point
from gridmap.features.ground import Ground
from gridmap.features.likeness import depth_apart, likeness, share_along
from gridmap.model import (
    Features,
    Float64,
    Interpretation,
    Listed,
    OldRow,
    OutlineFeature,
    PointFeature,
    RejectedCandidate,
    Said,
    Similarity,
)
from gridmap.model.interpretation import F, Kind

PIECE = 0.7
"""A new feature that lies along a person's by this share of itself is part of it."""
WHOLE = 0.8
"""An accepted or rejected shape is replaced by the machine's new one where that covers this share of it."""
_LETTER = {"linear": "L", "outline": "A", "point": "P"}


def interpret(
    found: Features, old: Sequence[OldRow], transform: Similarity, ground: Ground
) -> Interpretation:
    """Give features their identities, and a person's words and shapes their place.

    Parameters
    ----------
    found : Features
        From `gridmap.features.find`; local metres.
    old : sequence of OldRow
        Rows of the earlier run; empty where there is none.
    transform : Similarity
        Takes local x, y to the map.
    ground : Ground
        What shapes that a person drew are measured on.

    Returns
    -------
    Interpretation
        Every row that a person touched is in it once, with their words as they wrote them; so is everything found,
        if only among the rejected with the reason. Identities are kept; new ones take numbers that no row had.

    Notes
    -----
    A row and a new feature of its kind are the same where `likeness` is highest, one to one, touched rows first.
    A person's shape stays. A shape of the machine's gives way to its new one, unless a person accepted or
    rejected more of it than was found again. Parts of what a person rejected, and what runs along a person's shape,
    are rejected.
    """
    promoted = [replace(row, id="") for row in old if row.candidate and row.said.status != "rejected"]
    rows = [row for row in old if not row.candidate] + [replace(p, own_shape=True) for p in promoted]

    def of(kind: Kind) -> list[OldRow]:
        return [row for row in rows if row.kind == kind]

    linear, cut1 = _Carry("linear", found.linear, of("linear"), transform, ground).result()
    outlines, cut2 = _Carry("outline", found.outlines, of("outline"), transform, ground).result()
    points, cut3 = _Carry("point", found.points, of("point"), transform, ground).result()
    candidates = [row for row in old if row.candidate and row.said.status == "rejected" and row.touched]
    return Interpretation(
        linear, outlines, points, _candidates((*found.rejected, *cut1, *cut2, *cut3), candidates, transform)
    )


def plan_shape(feature: Any, transform: Similarity) -> shapely.Geometry:
    """Shape of a feature or candidate in plan, map metres."""
    if isinstance(feature, OutlineFeature):
        return shapely.Polygon(transform.to_map(feature.ring_m))
    if isinstance(feature, PointFeature):
        return shapely.Point(transform.to_map(np.atleast_2d(feature.xyz_m)[0, :2]))
    xy = transform.to_map(np.atleast_2d(feature.xyz_m)[:, :2])
    kind = getattr(feature, "kind", "linear")
    if kind == "outline":
        return shapely.Polygon(xy)
    return shapely.Point(xy[0]) if kind == "point" or len(xy) < 2 else shapely.LineString(xy)


def top_of(feature: Any) -> float:
    """Median depth to the top, metres."""
    if isinstance(feature, OutlineFeature):
        return feature.depth_top_m
    return float(np.median(np.atleast_2d(feature.xyz_m)[:, 2]))


def _pairs(
    kind: Kind, rows: Sequence[OldRow], shapes: Sequence[shapely.Geometry], depths: Sequence[float]
) -> dict[int, int]:
    """Which new shape belongs to which row, one to one, touched rows first, the most alike first."""
    scored = []
    for i, row in enumerate(rows):
        forms = [(row.shape, row.depth_m)]
        if row.found_shape is not None:
            forms.append((row.found_shape, row.found_depth_m))
        for j, (shape, depth) in enumerate(zip(shapes, depths, strict=True)):
            alike = max(likeness(kind, form, at, shape, depth) for form, at in forms)
            if alike > 0:
                scored.append((not row.touched, -alike, i, j))
    pairs: dict[int, int] = {}
    for _, _, i, j in sorted(scored):
        if i not in pairs and j not in pairs.values():
            pairs[i] = j
    return pairs


def _numbers(letter: str, taken: set[str]) -> Iterator[str]:
    """Yield new identities above every number that was ever taken."""
    used = [int(t[1:]) for t in taken if t[:1] == letter and t[1:].isdigit()]
    number = max(used, default=0)
    while True:
        number += 1
        yield f"{letter}{number}"


class _Carry(Generic[F]):
    """One kind of feature, from rows and new features to the list."""

    def __init__(
        self, kind: Kind, found: Sequence[F], rows: Sequence[OldRow], transform: Similarity, ground: Ground
    ) -> None:
        self.kind, self.found, self.transform, self.ground = kind, found, transform, ground
        self.shapes = [plan_shape(f, transform) for f in found]
        self.depths = [top_of(f) for f in found]
        self.new = _numbers(_LETTER[kind], {row.id for row in rows})
        self.rows = self._identified(rows)
        self.pairs = _pairs(kind, self.rows, self.shapes, self.depths)

    def _identified(self, rows: Sequence[OldRow]) -> list[OldRow]:
        seen: set[str] = set()
        out = []
        for row in rows:
            key = row.id if row.id and row.id not in seen else next(self.new)
            seen.add(key)
            out.append(row if key == row.id else replace(row, id=key))
        return out

    def result(self) -> tuple[tuple[Listed[F], ...], list[RejectedCandidate]]:
        listed: dict[int, Listed[F]] = {}
        last: list[Listed[F]] = []
        cut: list[RejectedCandidate] = []
        used: set[int] = set()
        for i, row in enumerate(self.rows):
            j = self.pairs.get(i)
            if not row.touched and j is None:
                continue
            if j is not None:
                used.add(j)
            if j is not None and self._again(row, j):
                listed[j] = Listed(row.id, self.found[j], row.said, None, "", self.shapes[j], self.depths[j])
                continue
            last.append(self._kept(row, j))
            if j is not None:
                cut.append(self._cut(j, f"is {row.id}, of which a person's shape is kept"))
        for j in range(len(self.found)):
            if j in used:
                continue
            if (reason := self._part(j, [*listed.values(), *last])) is not None:
                cut.append(self._cut(j, reason))
            else:
                listed[j] = Listed(
                    next(self.new), self.found[j], Said(), None, "", self.shapes[j], self.depths[j]
                )
        return (*(listed[j] for j in sorted(listed)), *last), cut

    def _again(self, row: OldRow, j: int) -> bool:
        """Say whether the machine's new shape stands for the row."""
        if row.own_shape:
            return False
        return row.said.status == "found" or share_along(row.shape, self.shapes[j]) >= WHOLE

    def _kept(self, row: OldRow, j: int | None) -> Listed[F]:
        """List a row in its own shape, measured anew."""
        local = shapely.transform(row.shape, self.transform.to_local)
        feature: Any
        about = row.found_depth_m if row.said.depth_m is None else row.said.depth_m
        if self.kind == "linear":
            feature = measure_line(self.ground, local, about)
        elif self.kind == "outline":
            feature = measure_outline(self.ground, local, about)
        else:
            feature = measure_point(self.ground, local, about)
        if j is not None:
            remark = (
                "the machine finds it too"
                if row.own_shape
                else "found in part only; its earlier shape is kept"
            )
        elif row.own_shape:
            remark = "drawn by a person"
        else:
            remark = "not found again in this run; its earlier shape is kept"
        shape, depth = (row.found_shape, row.found_depth_m) if j is None else (self.shapes[j], self.depths[j])
        return Listed(row.id, feature, row.said, row.shape, remark, shape, depth)

    def _part(self, j: int, listed: Sequence[Listed[F]]) -> str | None:
        """Say of which person's feature a new one is a part; None where of none."""
        for other in listed:
            if other.said.status != "rejected" and other.shape is None:
                continue
            form = plan_shape(other.feature, self.transform) if other.shape is None else other.shape
            near = depth_apart(self.depths[j], top_of(other.feature)) <= 1.0
            if near and share_along(self.shapes[j], form) >= PIECE:
                word = "rejected" if other.said.status == "rejected" else "drew or accepted"
                return f"part of {other.id}, which a person {word}"
        return None

    def _cut(self, j: int, reason: str) -> RejectedCandidate:
        feature: Any = self.found[j]
        if isinstance(feature, OutlineFeature):
            depth = np.full(len(feature.ring_m), feature.depth_top_m)
            return RejectedCandidate("outline", np.column_stack([feature.ring_m, depth]), reason)
        return RejectedCandidate(self.kind, np.atleast_2d(feature.xyz_m), reason)


def _candidates(
    found: Sequence[RejectedCandidate], rows: Sequence[OldRow], transform: Similarity
) -> tuple[Listed[RejectedCandidate], ...]:
    """Give candidates numbers; those of which a person said something keep identity and words."""
    listed: dict[int, Listed[RejectedCandidate]] = {}
    last: list[Listed[RejectedCandidate]] = []
    new = _numbers("R", {row.id for row in rows})
    for row in rows:
        best, at = 0.0, -1
        for j, r in enumerate(found):
            if r.kind == row.kind and j not in listed:
                alike = likeness(row.kind, row.shape, math.nan, plan_shape(r, transform), math.nan)
                best, at = (alike, j) if alike > best else (best, at)
        key = row.id or next(new)
        if at >= 0:
            listed[at] = Listed(key, found[at], row.said)
        else:
            gone = RejectedCandidate(
                row.kind, _local(row.shape, transform), "no candidate any more in this run"
            )
            last.append(Listed(key, gone, row.said))
    for j, r in enumerate(found):
        if j not in listed:
            listed[j] = Listed(next(new), r, Said("rejected"))
    return (*(listed[j] for j in range(len(found))), *last)


def _local(shape: shapely.Geometry, transform: Similarity) -> Float64:
    xy = transform.to_local(shapely.get_coordinates(shape))
    xy = xy[:-1] if shape.geom_type == "Polygon" else xy
    return np.column_stack([xy, np.zeros(len(xy))])
