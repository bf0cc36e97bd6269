"""Features in the 3D scene: pipes as tubes, areas as solids, small echoes as balls; tops at the layers' depths."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
import trimesh

from gridmap.deliver.marking import marking_colour, rgb
from gridmap.deliver.scene_parts import SceneFrame, Surface
from gridmap.features.interpret import plan_shape, top_of
from gridmap.features.stakes import share_along
from gridmap.model import Float64, Interpretation, Listed

THIN_M = 0.05
"""Radius of a tube, or of a ball, where no width is known, metres."""
LEAST_M, MOST_M = 0.03, 0.5
SLAB_M = 0.1
"""Height of a solid whose base does not show, metres."""
_SIDES = 16


@dataclass(frozen=True, slots=True)
class Solid:
    """One feature.

    Attributes
    ----------
    name : str
        Such as "feature L1".
    surface : Surface
        Closed, its triangles anticlockwise seen from outside.
    colour : (int, int, int)
        Of its class.
    about : dict
        Identity, form, depth and deviation, and what in the drawing is not measured.
    """

    name: str
    surface: Surface
    colour: tuple[int, int, int]
    about: dict[str, object]


def scene_solids(what: Interpretation, frame: SceneFrame) -> tuple[Solid, ...]:
    """Make the solids of all features that no person rejected.

    Parameters
    ----------
    what : Interpretation
        Features, in local metres; a shape that a person moved or drew holds.
    frame : SceneFrame
        Takes local x, y and depth to the scene.

    Returns
    -------
    tuple of Solid
        Lines, areas, points. A feature whose depth is not known has none, since it has no place in space.
    """
    made = [_pipe(f, frame) for f in what.linear if _stands(f)]
    made += [_body(f, frame) for f in what.outlines if _stands(f)]
    made += [_ball(f, frame) for f in what.points if _stands(f)]
    return tuple(solid for solid in made if solid is not None)


def tube(path_m: Float64, radius_m: float, sides: int = _SIDES) -> Surface:
    """Sweep a circle along a path and close both ends.

    Parameters
    ----------
    path_m : (vertex, 3) float64
        Middle of the tube; neighbours differ.
    radius_m : float
        Metres.
    sides : int
        Corners of the circle.
    """
    step = np.diff(path_m, axis=0)
    step /= np.linalg.norm(step, axis=1, keepdims=True)
    along = np.vstack([step[:1], step[:-1] + step[1:], step[-1:]])
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    up = np.array([0.0, 0.0, 1.0]) if np.abs(along[:, 2]).max() < 0.9 else np.array([1.0, 0.0, 0.0])
    side = np.cross(along, up)
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    over = np.cross(side, along)
    turn = 2 * np.pi * np.arange(sides) / sides
    ring = np.cos(turn)[None, :, None] * side[:, None] + np.sin(turn)[None, :, None] * over[:, None]
    points = (path_m[:, None] + radius_m * ring).reshape(-1, 3)
    k, j = np.meshgrid(np.arange(len(path_m) - 1), np.arange(sides), indexing="ij")
    a, b = (k * sides + j).ravel(), (k * sides + (j + 1) % sides).ravel()
    c, d = a + sides, b + sides
    first, last = len(points), len(points) + 1
    start, end = np.arange(sides), (len(path_m) - 1) * sides + np.arange(sides)
    triangles = np.vstack(
        [
            np.column_stack([a, d, b]),
            np.column_stack([a, c, d]),
            np.column_stack([np.full(sides, first), start, np.roll(start, -1)]),
            np.column_stack([np.full(sides, last), np.roll(end, -1), end]),
        ]
    )
    points = np.vstack([points, path_m[:1], path_m[-1:]])
    return Surface(points, _outward(points, triangles))


def prism(top_m: Float64, base_m: Float64) -> Surface:
    """Join two rings of as many vertices, one above the other, into a solid; (vertex, 3) each, not closed."""
    n = len(top_m)
    ring = np.arange(n)
    after = np.roll(ring, -1)
    lid = _fan(top_m[:, :2])
    points = np.vstack([top_m, base_m])
    triangles = np.vstack(
        [
            lid,
            lid[:, ::-1] + n,
            np.column_stack([ring, ring + n, after]),
            np.column_stack([after, ring + n, after + n]),
        ]
    )
    return Surface(points, _outward(points, triangles))


def _fan(ring: Float64) -> np.ndarray:
    """Triangles that fill a ring in plan, its vertices and no others."""
    if shapely.Polygon(ring).is_valid:
        index = {tuple(np.round(xy, 9)): k for k, xy in enumerate(ring)}
        parts = shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(ring)))
        found = [[index[tuple(np.round(xy, 9))] for xy in part.exterior.coords[:3]] for part in parts]
        if found:
            corners = ring[np.array(found)]
            (ax, ay), (bx, by) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
            left = ax * by - ay * bx > 0
            ours = shapely.Polygon(ring).exterior.is_ccw
            return np.array([t if same == ours else t[::-1] for t, same in zip(found, left, strict=True)])
    k = np.arange(1, len(ring) - 1)
    return np.column_stack([np.zeros_like(k), k, k + 1])


def _outward(points: Float64, triangles: np.ndarray) -> np.ndarray:
    """Turn all triangles about where the volume that they close would come out below nought."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return triangles if float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum()) >= 0 else triangles[:, ::-1]


def _stands(f: Listed[Any]) -> bool:
    return f.said.status != "rejected"


def _pipe(f: Listed[Any], frame: SceneFrame) -> Solid | None:
    m = f.feature
    shape = plan_shape(m, frame.transform) if f.shape is None else f.shape
    xy = frame.transform.to_local(shapely.get_coordinates(shape))
    measured = m.xyz_m if len(m.xyz_m) > 1 else np.repeat(m.xyz_m, 2, axis=0)
    depth = np.interp(share_along(xy), share_along(measured[:, :2]), measured[:, 2])
    depth = np.full(len(xy), f.said.depth_m) if f.said.depth_m is not None else depth
    radius = (
        THIN_M
        if m.width_m is None or m.width_m != m.width_m
        else float(np.clip(0.5 * m.width_m, LEAST_M, MOST_M))
    )
    keep = np.concatenate([[True], np.hypot(*np.diff(xy, axis=0).T) > 1e-6])
    if not np.isfinite(depth).all() or keep.sum() < 2:
        return None
    path = frame.to_scene(xy[keep], depth[keep] + radius)
    drawn = "apparent width" if radius != THIN_M else "not known; drawn thin"
    return _solid(f, "long, narrow echo", tube(path, radius), {"radius_m": radius, "radius_is": drawn})


def _body(f: Listed[Any], frame: SceneFrame) -> Solid | None:
    m = f.feature
    top = _top(f)
    if not np.isfinite(top):
        return None
    shape = plan_shape(m, frame.transform) if f.shape is None else f.shape
    ring = frame.transform.to_local(
        shapely.get_coordinates(shapely.remove_repeated_points(shape.exterior, 1e-6))[:-1]
    )
    known = m.thickness_m is not None and np.isfinite(m.thickness_m)
    height = max(float(m.thickness_m), 0.02) if known else SLAB_M
    surface = prism(frame.to_scene(ring, top), frame.to_scene(ring, top + height))
    drawn = "measured" if known else "not known; drawn as a slab"
    return _solid(f, "echo with an area", surface, {"height_m": height, "height_is": drawn})


def _ball(f: Listed[Any], frame: SceneFrame) -> Solid | None:
    top = _top(f)
    if not np.isfinite(top):
        return None
    shape = plan_shape(f.feature, frame.transform) if f.shape is None else f.shape
    xy = frame.transform.to_local(shapely.get_coordinates(shape)[0])
    ball = trimesh.creation.icosphere(subdivisions=2, radius=THIN_M)
    points = np.asarray(ball.vertices) + frame.to_scene(xy, top + THIN_M)
    surface = Surface(points, np.asarray(ball.faces, dtype=np.int64))
    return _solid(f, "small echo", surface, {"radius_m": THIN_M, "radius_is": "not known; drawn small"})


def _top(f: Listed[Any]) -> float:
    return float(top_of(f.feature) if f.said.depth_m is None else f.said.depth_m)


def _solid(f: Listed[Any], form: str, surface: Surface, drawn: dict[str, object]) -> Solid:
    top, sd = _top(f), f.feature.depth_sd_m
    about = {
        "id": f.id,
        "form": form,
        "class": f.said.class_name,
        "status": f.said.status,
        "depth_top_m": round(top, 3),
        "depth_sd_m": round(float(sd), 3) if np.isfinite(sd) else None,
        **drawn,
    }
    return Solid(f"feature {f.id}", surface, rgb(marking_colour(f.said.class_name)), about)
