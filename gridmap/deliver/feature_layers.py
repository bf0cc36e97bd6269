"""GIS layers of what was found, accepted and drawn: lines, outlines, points, and the candidates that were rejected."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from gridmap.deliver.heights import Heights
from gridmap.deliver.layers import Layer
from gridmap.deliver.marking import KINDS, NEUTRAL, OTHERS
from gridmap.deliver.styles import Style
from gridmap.features.interpret import plan_shape
from gridmap.features.quality_level import suggest_level
from gridmap.features.stakes import share_along
from gridmap.model import (
    Float64,
    Interpretation,
    LinearFeature,
    Listed,
    OutlineFeature,
    PlacedLine,
    PointFeature,
    RejectedCandidate,
    Said,
    Similarity,
)
from gridmap.model.feature_columns import AS_FOUND, TEXT, WHOLE, columns_of


def feature_layers(
    what: Interpretation, transform: Similarity, placed: Sequence[PlacedLine], tied: bool
) -> tuple[Layer, Layer, Layer, Layer, Layer]:
    """Gather the layers `linear`, `outlines`, `points`, `rejected` and `as_found`.

    Parameters
    ----------
    what : Interpretation
        From `gridmap.features.interpret`; measured in local metres.
    transform : Similarity
        Takes local x, y to the map.
    placed : sequence of PlacedLine
        Lines, for the height of the ground where it is known.
    tied : bool
        Whether the plan is tied to the ground by control points or a track.

    Returns
    -------
    tuple of Layer
        An empty layer says that nothing was found, never that nothing is there. Columns that a person added follow
        ours.
    """
    heights = Heights(placed)
    z = heights.words
    return (
        _layer(
            "linear", what.linear, [_linear(f, transform, heights, tied) for f in what.linear], "LineString Z",
            f"Long, narrow echoes: what may be pipes, cables, drains or walls. {z} confidence is the share of features "
            f"called so that are real on simulated ground. {_FOR_PERSON}", Style(NEUTRAL, 0.8, "id", KINDS, OTHERS),
        ),
        _layer(
            "outlines", what.outlines, [_outline(f, transform, heights, tied) for f in what.outlines], "Polygon Z",
            f"Echoes with an area: what may be tanks, slabs, pits, graves or voids. {z} bearing_deg of the longer "
            f"side, clockwise from the map's north. {_FOR_PERSON}", Style(NEUTRAL, 0.5, "id", KINDS, OTHERS),
        ),
        _layer(
            "points", what.points, [_point(f, transform, heights, tied) for f in what.points], "Point Z",
            f"Small things, neither long nor wide, that stand out of the ground's own small echoes, and places that a "
            f"person marked. {z} {_FOR_PERSON}",
            Style(NEUTRAL, 2.0, "id", KINDS, OTHERS),
        ),
        _layer(
            "rejected", what.rejected, [_rejected(f, transform, heights) for f in what.rejected], "LineString Z",
            f"Candidates that did not become features, each with the reason; an outline is drawn as its ring, a point "
            f"as a short stroke. {z} Set status to accepted to have one listed in the next run.",
            Style("#9a9a9a", 0.3),
        ),
        _as_found(what),
    )  # fmt: skip


_FOR_PERSON = (
    "status (found, accepted, rejected, drawn), class, quality_level, depth_said_m, note, by and when are a person's, "
    "and shapes may be moved or drawn: the next run keeps all that. quality_level is for a licensed person; "
    "quality_level_suggested is no more than a suggestion."
)


_POLARITY = {"same": "as the direct wave", "reversed": "reversed", "unclear": "unclear"}
"""How the echo begins, referred to the direct wave; the column `evidence` says what that may mean."""


def standing(layer: Layer) -> gpd.GeoDataFrame:
    """Rows of a layer of features that no person rejected."""
    frame = layer.frame
    return frame[frame["status"] != "rejected"] if "status" in frame.columns else frame


Row = tuple[dict[str, Any], shapely.Geometry]


def _linear(f: Listed[LinearFeature], transform: Similarity, heights: Heights, tied: bool) -> Row:
    m = f.feature
    depth = m.xyz_m[:, 2]
    shape = plan_shape(m, transform) if f.shape is None else f.shape
    # By share of the length: a person's vertices stand anywhere along the measured ones.
    at = share_along(m.xyz_m[:, :2])
    own = share_along(shapely.get_coordinates(shape))
    top = float(np.median(depth))
    row = {
        "depth_top_m": _round(top, 3),
        "depth_sd_m": _round(m.depth_sd_m, 3),
        "depth_start_m": _round(float(depth[0]), 3),
        "depth_end_m": _round(float(depth[-1]), 3),
        "length_m": round(float(shape.length), 2),
        "width_m": math.nan if m.width_m is None else round(m.width_m, 2),
        "strength": _round(m.strength, 1),
        "confidence": _round(m.confidence, 2),
        "crossings": m.crossings,
        "polarity": _POLARITY[m.polarity],
        **_words(f, m, top, tied, m.crossings),
    }
    return row, _with_z(shape, np.interp(own, at, depth), heights)


def _outline(f: Listed[OutlineFeature], transform: Similarity, heights: Heights, tied: bool) -> Row:
    m = f.feature
    shape = plan_shape(m, transform) if f.shape is None else f.shape
    row = {
        "depth_top_m": _round(m.depth_top_m, 3),
        "depth_sd_m": _round(m.depth_sd_m, 3),
        "thickness_m": math.nan if m.thickness_m is None else round(m.thickness_m, 2),
        "area_m2": round(float(shape.area), 2),
        "length_m": round(m.length_m, 2),
        "width_m": round(m.width_m, 2),
        "bearing_deg": round((90.0 - m.bearing_deg - transform.rotation_deg) % 180.0, 1),
        "strength": _round(m.strength, 1),
        "confidence": _round(m.confidence, 2),
        "polarity": _POLARITY[m.polarity],
        **_words(f, m, m.depth_top_m, tied),
    }
    return row, _with_z(shape, m.depth_top_m, heights)


def _point(f: Listed[PointFeature], transform: Similarity, heights: Heights, tied: bool) -> Row:
    m = f.feature
    shape = plan_shape(m, transform) if f.shape is None else f.shape
    top = float(np.atleast_2d(m.xyz_m)[0, 2])
    row = {
        "depth_top_m": _round(top, 3),
        "depth_sd_m": _round(m.depth_sd_m, 3),
        "strength": _round(m.strength, 1),
        "confidence": _round(m.confidence, 2),
        "polarity": _POLARITY[m.polarity],
        **_words(f, m, top, tied),
    }
    return row, _with_z(shape, top, heights)


def _rejected(f: Listed[RejectedCandidate], transform: Similarity, heights: Heights) -> Row:
    m = f.feature
    xyz = np.atleast_2d(m.xyz_m)
    path = np.column_stack(
        [transform.to_map(xyz[:, :2]), heights.z_m(transform.to_map(xyz[:, :2]), xyz[:, 2])]
    )
    if m.kind == "outline":
        path = np.concatenate([path, path[:1]])
    elif m.kind == "point" or len(path) < 2:
        path = np.concatenate([path[:1], path[:1] + np.array([0.05, 0.0, 0.0])])
    return {"kind": m.kind, "reason": m.reason}, shapely.LineString(path)


def _words(
    f: Listed[Any],
    m: LinearFeature | OutlineFeature | PointFeature,
    top_m: float,
    tied: bool,
    crossings: int | None = None,
) -> dict[str, Any]:
    """Evidence, and the quality level that it may support."""
    level, why = suggest_level(
        confidence=m.confidence, depth_m=top_m, depth_sd_m=m.depth_sd_m, crossings=crossings, tied=tied
    )  # fmt: skip
    if f.said.status == "rejected":
        level, why = "", "a person rejected it"
    return {
        "evidence": "; ".join(part for part in (m.note, f.remark) if part) or None,
        "quality_level_suggested": level or None,
        "suggested_why": why,
    }


def _as_found(what: Interpretation) -> Layer:
    rows, shapes = [], []
    everything: tuple[tuple[str, Sequence[Listed[Any]]], ...] = (
        ("linear", what.linear),
        ("outline", what.outlines),
        ("point", what.points),
    )
    for kind, listed in everything:
        for f in listed:
            if f.found_shape is None:
                continue
            xy = shapely.get_coordinates(f.found_shape)
            shapes.append(shapely.LineString(xy if len(xy) > 1 else [xy[0], xy[0] + [0.05, 0.0]]))
            rows.append({"id": f.id, "kind": kind, "depth_top_m": _round(f.found_depth_m, 3)})
    return Layer(
        AS_FOUND,
        _frame(rows, ["id", "kind", "depth_top_m"], shapes),
        "LineString",
        "Shapes as found before any person moved them, so that the next run knows what was moved. Not to be edited.",
        Style("#c9c9c9", 0.2),
    )


def _layer(
    name: str, listed: Sequence[Listed[Any]], rows: list[Row], geometry: str, description: str, style: Style
) -> Layer:
    columns = list(columns_of(name))
    whole = []
    for f, (machine, _) in zip(listed, rows, strict=True):
        extra = dict(f.said.extra)
        columns += [key for key in extra if key not in columns]
        whole.append({"id": f.id, **_person(f.said), **machine, **extra})
    frame = _frame(whole, columns, [shape for _, shape in rows], ours=len(columns_of(name)))
    return Layer(name, frame, geometry, description, style)


def _person(said: Said) -> dict[str, Any]:
    return {
        "status": said.status,
        "class": said.class_name,
        "quality_level": said.quality_level or None,
        "depth_said_m": math.nan if said.depth_m is None else said.depth_m,
        "note": said.note or None,
        "by": said.by or None,
        "when": said.when or None,
    }


def _frame(
    rows: list[dict[str, Any]], columns: list[str], shapes: list[shapely.Geometry], ours: int | None = None
) -> gpd.GeoDataFrame:
    frame = gpd.GeoDataFrame(rows, columns=columns, geometry=gpd.GeoSeries(shapes))
    for name in columns[:ours]:
        frame[name] = frame[name].astype(
            "int64" if name in WHOLE else "object" if name in TEXT else "float64"
        )
    for name in columns[len(columns) if ours is None else ours :]:  # a person's own columns
        values = [v for v in frame[name] if v is not None and v == v]
        if not all(isinstance(v, int | float) for v in values):
            frame[name] = [str(v) if v is not None and v == v else None for v in frame[name]]
    return frame


def _with_z(shape: shapely.Geometry, depth_m: Float64 | float, heights: Heights) -> shapely.Geometry:
    """Give every vertex its Z; where the depth is not known, that of the ground's surface."""
    xy = shapely.get_coordinates(shape)
    z = heights.z_m(xy, np.nan_to_num(np.broadcast_to(np.asarray(depth_m, dtype=float), len(xy))))
    return shapely.transform(
        shapely.force_3d(shape), lambda xyz: np.column_stack([xyz[:, :2], z]), include_z=True
    )


def _round(value: float, digits: int) -> float:
    return round(value, digits) if math.isfinite(value) else math.nan
