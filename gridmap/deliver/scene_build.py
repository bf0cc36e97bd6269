"""What the 3D scene holds, gathered from the volume, the slices and the lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.colours import colour_range as robust_range
from gridmap.deliver.scene_features import Solid, scene_solids
from gridmap.deliver.scene_ground import SIDE, edge_places
from gridmap.deliver.scene_parts import (
    SceneFrame,
    Surface,
    apart,
    iso_levels,
    iso_surface,
    scene_frame,
    thinned,
)
from gridmap.errors import OurFaultError
from gridmap.model import Float32, Float64, Grid, Interpretation, Similarity, SliceStack, Volume, Window

_MOST_QUADS = 30
_PATH_TOLERANCE_M = 0.01


@dataclass(frozen=True, slots=True)
class Scene:
    """All that both files hold.

    Attributes
    ----------
    frame : SceneFrame
        Local grid to scene; holds the origin.
    grid : Grid
        Cells of the slices.
    slices : (slice, row, column) float32
        On the local grid; NaN where blank. No two overlap in depth.
    windows : tuple of Window
        One a slice.
    colour_range : (float, float)
        One scale for all.
    quantity : str
        What the values are.
    levels : tuple of float
        Values of the iso-surfaces.
    surfaces : tuple of Surface
        One a level.
    lines_m : tuple of (k, 3) float64
        Lines walked, at ground level, in the scene.
    ground_m : (4 k, 3) float64
        Edge of the cells, at ground level, in the scene; k points a side, from a corner.
    about : dict
        What a reader must know: origin, axes, quantity, caution.
    solids : tuple of Solid
        Features.
    """

    frame: SceneFrame
    grid: Grid
    slices: Float32
    windows: tuple[Window, ...]
    colour_range: tuple[float, float]
    quantity: str
    levels: tuple[float, ...]
    surfaces: tuple[Surface, ...]
    lines_m: tuple[Float64, ...]
    ground_m: Float64
    about: dict[str, object]
    solids: tuple[Solid, ...] = ()


def build_scene(
    volume: Volume,
    transform: Similarity,
    stack: SliceStack,
    lines_xy_m: Sequence[Float64],
    *,
    colour_range: tuple[float, float] | None = None,
    levels: Sequence[float] | None = None,
    usual: Float32 | None = None,
    title: str = "",
    crs_name: str = "",
    features: Interpretation | None = None,
) -> Scene:
    """Gather the parts of the scene.

    Parameters
    ----------
    volume : Volume
        Envelope over depth on the local grid.
    transform : Similarity
        Local grid to map.
    stack : SliceStack
        Depth slices on the volume's grid. Those that overlap the last one kept are left out; no more than
        thirty are kept.
    lines_xy_m : sequence of (k, 2) float64
        Paths of the lines walked, local metres.
    colour_range : (float, float) or None
        The scale that the pictures have; None takes it from the stack.
    levels : sequence of float or None
        Values of the iso-surfaces; None takes them from the volume.
    usual : (z,) float32 or None
        What the values of each depth are divided by before surfaces are drawn; `levels` are then needed and count
        after that.
    title, crs_name : str
        Name of the site and of its CRS.
    features : Interpretation or None
        What was found; stands in the scene as tubes and solids.

    Returns
    -------
    Scene
        For `write_scene`.

    Raises
    ------
    OurFaultError
        If the volume is not over depth, the stack is not on its grid, or `usual` is given without `levels`.
    """
    grid = volume.grid
    if volume.axis != "depth" or stack.values.shape[1:] != grid.shape:
        raise OurFaultError(
            f"scene: needs a volume over depth and slices on its grid {grid.shape}, "
            f"got axis {volume.axis} and slices {stack.values.shape}"
        )
    if usual is not None and levels is None:
        raise OurFaultError("scene: levels over the usual are not known from the volume itself")
    frame = scene_frame(grid, transform, volume.ground_m)
    keep = apart([w.top_m for w in stack.windows], [w.base_m for w in stack.windows], _MOST_QUADS)
    found = tuple(levels) if levels is not None else iso_levels(volume.values)
    thin = thinned(volume, usual=usual)
    about: dict[str, object] = {
        "title": title,
        "crs": crs_name or "local grid",
        "origin_easting_m": frame.origin_m[0],
        "origin_northing_m": frame.origin_m[1],
        "up": "minus the depth below the ground surface, metres; vertical exaggeration 1"
        if frame.ground is None
        else "elevation less origin_elevation_m, metres; vertical exaggeration 1",
        **({} if frame.ground is None else {"origin_elevation_m": frame.ground.origin_m}),
        "quantity": stack.quantity,
        "iso_levels": [float(v) for v in found],
        "slice_opacity": "grows with the value; blank cells are left out",
        "caution": CAUTION,
    }
    return Scene(
        frame=frame,
        grid=grid,
        slices=stack.values[keep],
        windows=tuple(stack.windows[k] for k in keep),
        colour_range=colour_range if colour_range is not None else robust_range(stack.values),
        quantity=stack.quantity,
        levels=found,
        surfaces=tuple(iso_surface(volume, frame, level, thin) for level in found),
        lines_m=tuple(frame.to_scene(thinned_path(xy, frame.ground is not None), 0.0) for xy in lines_xy_m),
        ground_m=frame.to_scene(edge_places(grid, 1 if frame.ground is None else SIDE), 0.0),
        about=about,
        solids=() if features is None else scene_solids(features, frame),
    )


def slice_name(window: Window) -> str:
    """Name of a slice in both files, such as "slice 0.40 to 0.50 m"."""
    return f"slice {'elevation ' if window.axis == 'elevation' else ''}{window.label}"


def surface_name(level: float) -> str:
    """Name of an iso-surface in both files."""
    return f"iso-surface at {level:g}"


def thinned_path(xy_m: Float64, draped: bool = False) -> Float64:
    """Leave out the vertices that lie within 1 cm of the path; one that is to be draped keeps 200 of them."""
    if draped:
        some = np.unique(np.linspace(0, len(xy_m) - 1, 200).astype(int))
        return np.asarray(xy_m[some], dtype=np.float64)
    return np.asarray(shapely.LineString(xy_m).simplify(_PATH_TOLERANCE_M).coords)
