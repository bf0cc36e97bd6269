"""The plain ways to interpolate: nearest point, inverse distance, straight lines on triangles."""

from __future__ import annotations

import numpy as np
from scipy.spatial import Delaunay, QhullError, cKDTree

from gridmap.model import Float64, Int64
from gridmap.volume.search import quadrant_neighbours
from gridmap.volume.weights import Weights

NEIGHBOURS = 8
_TOUCHING_M = 1e-6


def nearest(point_m: Float64, target_m: Float64, rows: Int64) -> Weights:
    """Give each place the value of the point nearest to it.

    Parameters
    ----------
    point_m : (point, 2) float64
        Where values are known, metres.
    target_m : (target, 2) float64
        Where they are wanted, metres.
    rows : (row,) int64
        Which targets get weights, rising; the others stay empty.

    Returns
    -------
    Weights
        (target, point), one weight a row.
    """
    _, index = cKDTree(point_m).query(target_m[rows], workers=2)
    return Weights(_starts(len(target_m), rows, 1), index.astype(np.int64), np.ones(len(rows), np.float32))


def inverse_distance(
    point_m: Float64, target_m: Float64, rows: Int64, neighbours: int = NEIGHBOURS
) -> Weights:
    """Weigh the points around each place by one over the square of their distance (Shepard 1968).

    Parameters
    ----------
    point_m, target_m, rows
        As in `nearest`.
    neighbours : int
        Points a place, the same number from each quadrant: the eight nearest would lie on one line.

    Returns
    -------
    Weights
        (target, point).
    """
    index, used = quadrant_neighbours(point_m, target_m, rows, neighbours)
    apart = point_m[index] - target_m[rows][:, None]
    weight = 1.0 / np.maximum((apart * apart).sum(axis=2), _TOUCHING_M**2)
    keep = np.arange(neighbours) < used[:, None]
    weight *= keep
    weight /= weight.sum(axis=1, keepdims=True)
    return Weights(_starts(len(target_m), rows, used), index[keep], weight[keep].astype(np.float32))


def on_triangles(point_m: Float64, target_m: Float64, rows: Int64) -> Weights:
    """Interpolate straight on the triangles between the points (Delaunay); beyond their rim take the nearest point.

    Parameters
    ----------
    point_m, target_m, rows
        As in `nearest`.

    Returns
    -------
    Weights
        (target, point): the barycentric co-ordinates.
    """
    middle = point_m.mean(axis=0)
    try:
        mesh = Delaunay(point_m - middle)
    except (QhullError, ValueError):  # fewer than three points, or all on one line
        return nearest(point_m, target_m, rows)
    at = target_m[rows] - middle
    triangle = mesh.find_simplex(at)
    inside = triangle >= 0
    to_shares = mesh.transform[triangle]
    share = np.einsum("rij,rj->ri", to_shares[:, :2], at - to_shares[:, 2])
    weight = np.concatenate([share, 1 - share.sum(axis=1, keepdims=True)], axis=1)
    index = mesh.simplices[triangle].astype(np.int64)
    inside &= np.isfinite(weight).all(axis=1)
    if not inside.all():
        _, near = cKDTree(point_m).query(target_m[rows[~inside]])
        index[~inside] = np.asarray(near)[:, None]
        weight[~inside] = (1.0, 0.0, 0.0)
    return Weights(_starts(len(target_m), rows, 3), index.ravel(), weight.ravel().astype(np.float32))


def _starts(targets: int, rows: Int64, used: Int64 | int) -> Int64:
    count = np.zeros(targets, np.int64)
    count[rows] = used
    return np.concatenate([[0], np.cumsum(count)]).astype(np.int64)
