"""Frozen records over NumPy arrays; every name carries its unit.

Modules: `arrays`, `line`, `layout`, `track`, `grid`, `transform`, `velocity`, `volume`, `feature`,
`interpretation`.
"""

from gridmap.model.arrays import Bool, Float32, Float64, Int64
from gridmap.model.feature import (
    Features,
    LinearFeature,
    OutlineFeature,
    PointFeature,
    Polarity,
    RejectedCandidate,
)
from gridmap.model.grid import Grid, RasterGrid
from gridmap.model.interpretation import Interpretation, Listed, OldRow, Said
from gridmap.model.layout import ArrayLayout, Layouts, TextLayout
from gridmap.model.line import CleanLine, Line, PlacedLine
from gridmap.model.track import HeightRaster, Points, Stations, Track
from gridmap.model.transform import IDENTITY, Similarity
from gridmap.model.velocity import LIGHT_M_PER_NS, VelocityModel
from gridmap.model.volume import SliceStack, Volume, Window

__all__ = [
    "IDENTITY",
    "LIGHT_M_PER_NS",
    "ArrayLayout",
    "Bool",
    "CleanLine",
    "Features",
    "Float32",
    "Float64",
    "Grid",
    "HeightRaster",
    "Int64",
    "Interpretation",
    "Layouts",
    "Line",
    "LinearFeature",
    "Listed",
    "OldRow",
    "OutlineFeature",
    "PlacedLine",
    "PointFeature",
    "Points",
    "Polarity",
    "RasterGrid",
    "RejectedCandidate",
    "Said",
    "Similarity",
    "SliceStack",
    "Stations",
    "TextLayout",
    "Track",
    "VelocityModel",
    "Volume",
    "Window",
]
