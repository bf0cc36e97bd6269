"""GIS layers of what was found: lines, outlines, points, and the candidates that were rejected."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import shapely
from scipy.spatial import cKDTree

from gridmap.deliver.layers import Layer
from gridmap.deliver.styles import Style
from gridmap.model import Features, Float64, PlacedLine, Similarity

_NEUTRAL = "#b03a6f"
"""One colour for all that is found: what a feature is, its echo does not say."""


class Heights:
    """Z of a vertex: height of the ground less depth where the ground is known everywhere, else minus depth."""

    def __init__(self, placed: Sequence[PlacedLine]) -> None:
        rows = [
            np.column_stack([p.xy_m, p.elevation_m])
            for p in placed
            if p.elevation_m is not None and np.isfinite(p.elevation_m).any()
        ]
        known = np.concatenate(rows) if rows else np.zeros((0, 3))
        known = known[np.isfinite(known).all(axis=1)]
        self._ground = known[:, 2]
        self._tree = cKDTree(known[:, :2]) if rows and len(rows) == len(placed) else None

    @property
    def words(self) -> str:
        """What Z is, for the layer's description."""
        return (
            "Z is minus the depth below ground, metres."
            if self._tree is None
            else "Z is elevation, metres: ground height less depth."
        )

    def z_m(self, xy_m: Float64, depth_m: Float64) -> Float64:
        """Z of vertices, (vertex,) metres; ground: mean of the four nearest traces, by inverse distance."""
        if self._tree is None:
            return np.asarray(-depth_m)
        off, near = self._tree.query(xy_m, k=min(4, len(self._ground)))
        off, near = np.reshape(off, (len(xy_m), -1)), np.reshape(near, (len(xy_m), -1))
        weight = 1.0 / np.maximum(off, 0.01)
        return np.asarray((weight * self._ground[near]).sum(1) / weight.sum(1) - depth_m)


def feature_layers(
    found: Features, transform: Similarity, placed: Sequence[PlacedLine]
) -> tuple[Layer, Layer, Layer, Layer]:
    """Gather the layers `linear`, `outlines`, `points` and `rejected`.

    Parameters
    ----------
    found : Features
        From `gridmap.features.find`; local metres.
    transform : Similarity
        Takes local x, y to the map.
    placed : sequence of PlacedLine
        Lines, for the height of the ground where it is known.

    Returns
    -------
    tuple of Layer
        An empty layer says that nothing was found, never that nothing is there.
    """
    heights = Heights(placed)

    def on_map(xyz_m: Float64) -> Float64:
        xy = xyz_m[:, :2]
        return np.column_stack([transform.to_map(xy), heights.z_m(xy, xyz_m[:, 2])])

    return (
        _linear(found, on_map, transform, heights.words),
        _outlines(found, on_map, transform, heights.words),
        _points(found, on_map, heights.words),
        _rejected(found, on_map, heights.words),
    )


def _linear(found: Features, on_map, transform: Similarity, z_words: str) -> Layer:  # type: ignore[no-untyped-def]
    rows, shapes = [], []
    for k, f in enumerate(found.linear):
        depth = f.xyz_m[:, 2]
        shapes.append(shapely.LineString(on_map(f.xyz_m)))
        rows.append(
            {
                "id": f"L{k + 1}",
                "depth_top_m": round(float(np.median(depth)), 3),
                "depth_sd_m": round(f.depth_sd_m, 3),
                "depth_start_m": round(float(depth[0]), 3),
                "depth_end_m": round(float(depth[-1]), 3),
                "length_m": round(float(shapely.length(shapes[-1])), 2),
                "width_m": np.nan if f.width_m is None else round(f.width_m, 2),
                "strength": round(f.strength, 1),
                "confidence": round(f.confidence, 2),
                "crossings": f.crossings,
                "polarity": f.polarity,
                "class": "unknown",
                "quality_level": None,
                "note": f.note,
            }
        )
    columns = [
        "id", "depth_top_m", "depth_sd_m", "depth_start_m", "depth_end_m", "length_m", "width_m", "strength",
        "confidence", "crossings", "polarity", "class", "quality_level", "note",
    ]  # fmt: skip
    return Layer(
        "linear",
        _frame(rows, columns, shapes, text=("quality_level",)),
        "LineString Z",
        f"Long, narrow echoes: what may be pipes, cables, drains or walls. {z_words} confidence is the share of "
        "features called so that are real on simulated ground; quality_level is for a licensed person to set.",
        Style(_NEUTRAL, 0.8, label="id"),
    )


def _outlines(found: Features, on_map, transform: Similarity, z_words: str) -> Layer:  # type: ignore[no-untyped-def]
    rows, shapes = [], []
    for k, f in enumerate(found.outlines):
        ring = np.column_stack([f.ring_m, np.full(len(f.ring_m), f.depth_top_m)])
        shapes.append(shapely.Polygon(on_map(ring)))
        rows.append(
            {
                "id": f"A{k + 1}",
                "depth_top_m": round(f.depth_top_m, 3),
                "depth_sd_m": round(f.depth_sd_m, 3),
                "thickness_m": np.nan if f.thickness_m is None else round(f.thickness_m, 2),
                "area_m2": round(float(shapely.area(shapes[-1])), 2),
                "length_m": round(f.length_m, 2),
                "width_m": round(f.width_m, 2),
                "bearing_deg": round((90.0 - f.bearing_deg - transform.rotation_deg) % 180.0, 1),
                "strength": round(f.strength, 1),
                "confidence": round(f.confidence, 2),
                "class": "unknown",
                "note": f.note,
            }
        )
    columns = [
        "id", "depth_top_m", "depth_sd_m", "thickness_m", "area_m2", "length_m", "width_m", "bearing_deg", "strength",
        "confidence", "class", "note",
    ]  # fmt: skip
    return Layer(
        "outlines",
        _frame(rows, columns, shapes),
        "Polygon Z",
        f"Echoes with an area: what may be tanks, slabs, pits, graves or voids. {z_words} bearing_deg of the longer "
        "side, clockwise from the map's north.",
        Style(_NEUTRAL, 0.5, label="id"),
    )


def _points(found: Features, on_map, z_words: str) -> Layer:  # type: ignore[no-untyped-def]
    rows, shapes = [], []
    for k, f in enumerate(found.points):
        shapes.append(shapely.Point(on_map(np.atleast_2d(f.xyz_m))[0]))
        rows.append(
            {
                "id": f"P{k + 1}",
                "depth_top_m": round(float(np.atleast_2d(f.xyz_m)[0, 2]), 3),
                "depth_sd_m": round(f.depth_sd_m, 3),
                "strength": round(f.strength, 1),
                "confidence": round(f.confidence, 2),
                "note": f.note,
            }
        )
    columns = ["id", "depth_top_m", "depth_sd_m", "strength", "confidence", "note"]
    return Layer(
        "points",
        _frame(rows, columns, shapes),
        "Point Z",
        f"Small, strong echoes that are neither long nor wide. {z_words}",
        Style(_NEUTRAL, 2.0, label="id"),
    )


def _rejected(found: Features, on_map, z_words: str) -> Layer:  # type: ignore[no-untyped-def]
    rows: list[dict[str, object]] = []
    shapes = []
    for k, r in enumerate(found.rejected):
        path = on_map(np.atleast_2d(r.xyz_m))
        if r.kind == "outline":
            path = np.concatenate([path, path[:1]])
        elif r.kind == "point":
            path = np.concatenate([path[:1], path[:1] + np.array([0.05, 0.0, 0.0])])
        shapes.append(shapely.LineString(path))
        rows.append({"id": f"R{k + 1}", "kind": r.kind, "reason": r.reason})
    return Layer(
        "rejected",
        _frame(rows, ["id", "kind", "reason"], shapes),
        "LineString Z",
        f"Candidates that did not become features, each with the reason; an outline is drawn as its ring, a point as "
        f"a short stroke. {z_words}",
        Style("#9a9a9a", 0.3),
    )


def _frame(
    rows: list[dict[str, object]],
    columns: list[str],
    shapes: list[shapely.Geometry],
    text: tuple[str, ...] = (),
) -> gpd.GeoDataFrame:
    frame = gpd.GeoDataFrame(rows, columns=columns, geometry=gpd.GeoSeries(shapes))
    for name in columns:
        if not rows or name in text:
            frame[name] = frame[name].astype(_kind(name))
    return frame


def _kind(name: str) -> str:
    """Type of a field, so that an empty layer has the same fields as a full one."""
    if name == "crossings":
        return "int64"
    words = ("id", "polarity", "class", "quality_level", "note", "kind", "reason")
    return "object" if name in words else "float64"
