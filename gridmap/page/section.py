"""A vertical section through the volume along any path on the map."""

from __future__ import annotations

import numpy as np

from gridmap.errors import InputError
from gridmap.model import Float32, Float64, Similarity, Volume

MOST_TRACES = 4000


def cut_volume(volume: Volume, transform: Similarity, path_m: Float64) -> tuple[Float32, float]:
    """Cut a volume along a path.

    Parameters
    ----------
    volume : Volume
        Over (z, y, x).
    transform : Similarity
        Takes local x, y to the map.
    path_m : (vertex, 2) float64
        Corners of the section on the map, metres; two or more.

    Returns
    -------
    (trace, z) float32
        Values, bilinear between the four cells around each trace; NaN where one of them is blank or outside.
    float
        Map metres from trace to trace: a cell or a little less.

    Raises
    ------
    InputError
        If the path has no length, or needs more than `MOST_TRACES` traces.
    """
    along = np.concatenate([[0.0], np.hypot(*np.diff(path_m, axis=0).T).cumsum()])
    cell = volume.grid.cell_m * transform.scale
    if not along[-1] > 0:
        raise InputError("the section has no length")
    count = max(2, int(np.ceil(along[-1] / cell)) + 1)
    if count > MOST_TRACES:
        raise InputError(f"the section is too long: {along[-1]:.0f} m")
    at = np.linspace(0.0, along[-1], count)
    places = np.column_stack([np.interp(at, along, path_m[:, k]) for k in (0, 1)])
    local = transform.to_local(places)
    x = (local[:, 0] - volume.grid.x_first_m) / volume.grid.cell_m
    y = (local[:, 1] - volume.grid.y_first_m) / volume.grid.cell_m
    inside = (x >= 0) & (y >= 0) & (x <= volume.grid.columns - 1) & (y <= volume.grid.rows - 1)
    i = np.clip(x.astype(int), 0, volume.grid.columns - 2)
    j = np.clip(y.astype(int), 0, volume.grid.rows - 2)
    u, v = (x - i).astype(np.float32), (y - j).astype(np.float32)
    values = (
        volume.values[:, j, i] * ((1 - u) * (1 - v)) + volume.values[:, j, i + 1] * (u * (1 - v))
        + volume.values[:, j + 1, i] * ((1 - u) * v) + volume.values[:, j + 1, i + 1] * (u * v)
    )  # fmt: skip
    values[:, ~inside] = np.nan
    return np.ascontiguousarray(values.T, dtype=np.float32), float(at[1])
