"""Z of what lies in the ground, from the heights of the traces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from gridmap.model import Float64, PlacedLine


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
