"""Everything that is made from the features: for a GIS, for the web, for CAD, for a phone and for setting out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gridmap.deliver.dxf import write_dxf
from gridmap.deliver.feature_plan import feature_plan, stake_plan
from gridmap.deliver.geojson import write_geojson
from gridmap.deliver.kml import write_kml
from gridmap.deliver.layers import Layer
from gridmap.deliver.pictures import write_picture
from gridmap.deliver.stakeout import write_stakeout
from gridmap.features.stakes import EVERY_M, stakes
from gridmap.model import Float64, Interpretation, RasterGrid, Similarity


def hand_over_features(
    folder: Path,
    what: Interpretation,
    layers: Sequence[Layer],
    transform: Similarity,
    raster: RasterGrid,
    lines_map: Sequence[Float64],
    title: str,
    crs_name: str,
    *,
    tied: bool,
    every_m: float = EVERY_M,
) -> list[str]:
    """Write features.geojson, .kml, .dxf, stakeout.csv, pictures/plan.png and pictures/stakeout.png.

    Parameters
    ----------
    folder : Path
        The output folder.
    what : Interpretation
        Features.
    layers : sequence of Layer
        All layers of features.gpkg.
    transform : Similarity
        Takes local x, y to the map.
    raster : RasterGrid
        Extent and CRS of the map.
    lines_map : sequence of (trace, 2) float64
        Lines walked on the map, metres.
    title, crs_name : str
        Name of the site; short name of the CRS, empty for a local grid.
    tied : bool
        Whether the plan is tied to the ground.
    every_m : float
        Distance between regular points to set out, metres.

    Returns
    -------
    list of str
        Notes: which files are left out, and why.
    """
    notes = []
    found = [layer for layer in layers if layer.name in ("linear", "outlines", "points", "rejected")]
    if raster.crs_wkt is None:
        notes.append("no features.geojson and no features.kml: both need a CRS, and the map has none")
    else:
        write_geojson(folder / "features.geojson", found, raster.crs_wkt)
        write_kml(folder / "features.kml", layers, raster.crs_wkt, title)
    frame_words = f"Co-ordinates: {crs_name or ('map' if tied else 'local grid')}, metres."
    write_dxf(folder / "features.dxf", layers, title, frame_words)
    points = stakes(what, transform, every_m)
    write_stakeout(folder / "stakeout.csv", points, tied)
    pictures = folder / "pictures"
    pictures.mkdir(exist_ok=True)
    write_picture(pictures / "plan.png", feature_plan(layers, raster, lines_map, title, crs_name))
    write_picture(pictures / "stakeout.png", stake_plan(layers, points, raster, lines_map, title, crs_name))
    return notes
