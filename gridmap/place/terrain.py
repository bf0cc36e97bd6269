"""Ground heights at traces: from surveyed points, or from a raster of heights."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Float64, HeightRaster, Points, Similarity

NEAR_M = 2.0
"""Outside the triangles of the points, the nearest point's plane is not trusted beyond this, metres."""


Heights = Callable[[Float64], Float64]
"""From local places, (place, 2) metres, to elevations, (place,) metres, NaN where not known."""


def heights_from_points(
    points: Points, xy_m: Float64, transform: Similarity, near_m: float = NEAR_M
) -> Float64:
    """Interpolate ground heights between surveyed points; as `surface_from_points`, for one set of places."""
    return surface_from_points(points, transform, near_m)(xy_m)


def surface_from_points(points: Points, transform: Similarity, near_m: float = NEAR_M) -> Heights:
    """Lay triangles over surveyed points, once for all lines.

    Parameters
    ----------
    points : Points
        Three or more with heights, not in one row.
    transform : Similarity
        Local grid to map, for points of the map.
    near_m : float
        A trace outside all triangles takes the height of the nearest place on their rim, if that is no
        further, metres.

    Returns
    -------
    Heights
        NaN where no point is near enough.

    Raises
    ------
    PlaceError
        If the points are too few or in one row, or two at one place differ by more than 5 cm.

    Notes
    -----
    Linear in the triangles of Delaunay. A plane is met exactly.
    """
    from scipy.interpolate import LinearNDInterpolator
    from scipy.spatial import Delaunay, QhullError

    xyz = points.xyz_m[np.isfinite(points.xyz_m).all(axis=1)]
    where = transform.to_local(xyz[:, :2]) if points.frame == "map" else xyz[:, :2]
    if len(xyz) < 3:
        raise PlaceError(
            f"{points.source}: {len(xyz)} points with heights; three are the least for the ground."
        )
    where, height = _merged(where, xyz[:, 2], points.source)
    middle = where.mean(axis=0)
    try:
        mesh = Delaunay(where - middle)
    except (QhullError, ValueError):
        raise PlaceError(
            f"{points.source}: its {len(where)} points lie in one row, which does not show the slope across. Add points"
            " beside the row."
        ) from None
    surface = LinearNDInterpolator(mesh, height)
    edges, edge_heights = mesh.points[mesh.convex_hull], height[mesh.convex_hull]

    def heights(xy_m: Float64) -> Float64:
        out = np.asarray(surface(xy_m - middle), dtype=np.float64)
        lost = np.flatnonzero(np.isnan(out))
        if lost.size:
            out[lost] = _rim_heights(xy_m[lost] - middle, edges, edge_heights, near_m)
        return out

    return heights


def heights_from_raster(raster: HeightRaster, xy_m: Float64, transform: Similarity) -> Float64:
    """Interpolate ground heights between cell centres of a raster, bilinear.

    Parameters
    ----------
    raster : HeightRaster
        In the site's map CRS.
    xy_m : (trace, 2) float64
        Local grid, metres.
    transform : Similarity
        Local grid to map.

    Returns
    -------
    (trace,) float64
        Metres; NaN outside the outermost cell centres by more than half a cell, or beside a cell without data.

    Raises
    ------
    PlaceError
        If the raster has no area.
    """
    a, b, c, d, e, f = raster.affine
    det = a * e - b * d
    rows, columns = raster.height_m.shape
    if det == 0 or rows < 1 or columns < 1:
        raise PlaceError(f"{raster.source}: its cells have no area. Export the heights again.")
    en = transform.to_map(xy_m)
    de, dn = en[:, 0] - c, en[:, 1] - f
    column = (e * de - b * dn) / det - 0.5
    row = (a * dn - d * de) / det - 0.5
    inside = (column >= -0.5) & (column <= columns - 0.5) & (row >= -0.5) & (row <= rows - 0.5)
    column, row = np.clip(column, 0, columns - 1), np.clip(row, 0, rows - 1)
    left, top = np.floor(column).astype(int), np.floor(row).astype(int)
    right, base = np.minimum(left + 1, columns - 1), np.minimum(top + 1, rows - 1)
    u, v = column - left, row - top
    out = np.zeros(len(xy_m))
    for r, col, weight in (
        (top, left, (1 - v) * (1 - u)),
        (top, right, (1 - v) * u),
        (base, left, v * (1 - u)),
        (base, right, v * u),
    ):
        out += np.where(weight > 0, weight * raster.height_m[r, col], 0.0)
    return np.where(inside, out, np.nan)


def _merged(where: Float64, height: Float64, source: str) -> tuple[Float64, Float64]:
    """Points at one place (to a millimetre) become one; they may not differ by more than 5 cm."""
    _, index, inverse = np.unique(where.round(3), axis=0, return_index=True, return_inverse=True)
    inverse = inverse.reshape(-1)
    low = np.full(len(index), np.inf)
    high = np.full(len(index), -np.inf)
    np.minimum.at(low, inverse, height)
    np.maximum.at(high, inverse, height)
    if (high - low > 0.05).any():
        k = int(np.argmax(high - low))
        x, y = where[index[k]]
        raise PlaceError(
            f"{source}: two points at x {x:.2f}, y {y:.2f} differ by {high[k] - low[k]:.2f} m in height. Take one out."
        )
    return where[index], np.bincount(inverse, height) / np.bincount(inverse)


def _rim_heights(xy: Float64, edges: Float64, heights: Float64, near_m: float) -> Float64:
    """Height of the nearest place on the edges (edge, end, xy); NaN where it is further than `near_m`."""
    start, way = edges[:, 0], edges[:, 1] - edges[:, 0]
    length2 = (way**2).sum(axis=1)
    out = np.full(len(xy), np.nan)
    for k, point in enumerate(xy):
        share = np.clip(((point - start) * way).sum(axis=1) / length2, 0, 1)
        distance = np.hypot(*(start + share[:, None] * way - point).T)
        best = int(np.argmin(distance))
        if distance[best] <= near_m:
            out[k] = heights[best, 0] + share[best] * (heights[best, 1] - heights[best, 0])
    return out


def filled(height_m: Float64, cell_m: float) -> tuple[Float64, float]:
    """Give cells whose ground is not known the height of the nearest that is.

    Parameters
    ----------
    height_m : (row, column) float64
        Elevation, metres; NaN where not known.
    cell_m : float
        Side of a cell, metres.

    Returns
    -------
    (row, column) float64
        No NaN.
    float
        How far the farthest such height was fetched from, metres; 0 where all were known.

    Raises
    ------
    PlaceError
        If none is known.
    """
    from scipy import ndimage

    lost = np.isnan(height_m)
    if lost.all():
        raise PlaceError(
            "[terrain]: its heights do not reach the survey at all. Check frame and the co-ordinates of the points."
        )
    if not lost.any():
        return height_m, 0.0
    away, nearest = ndimage.distance_transform_edt(lost, return_indices=True)
    return height_m[tuple(nearest)], float(away.max()) * cell_m
