"""GIS layer of things above the ground whose echoes came through the air."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import shapely

from gridmap.condition.air_echo import AirEcho
from gridmap.deliver.layers import Layer
from gridmap.deliver.styles import Style
from gridmap.model import Similarity


def above_ground_layer(echoes: Sequence[AirEcho], transform: Similarity) -> Layer:
    """Gather what stands above the ground as points.

    Parameters
    ----------
    echoes : sequence of AirEcho
        As found.
    transform : Similarity
        Takes local x, y to the map.

    Returns
    -------
    Layer
        Points with `kind`, `runs_deg` (of a wall: how it runs, clockwise from the map's north, below 180; else
        null), `nearest_m`, `coherence`, `lines` (names), `note`.
    """
    places = [transform.to_map(np.array([echo.x_m, echo.y_m])) for echo in echoes]
    frame = gpd.GeoDataFrame(
        {
            "kind": [echo.kind for echo in echoes],
            "runs_deg": np.array(
                [round((-echo.normal_deg - transform.rotation_deg) % 180.0, 1) for echo in echoes],
                dtype=float,
            ),
            "nearest_m": [round(echo.nearest_m, 2) for echo in echoes],
            "coherence": [round(echo.coherence, 3) for echo in echoes],
            "lines": [", ".join(echo.lines) for echo in echoes],
            "note": [
                "place good to about 0.2 m"
                if echo.kind == "post"
                else "one point of it; its ends are not known"
                for echo in echoes
            ],
        },
        geometry=gpd.GeoSeries([shapely.Point(place) for place in places]),
    )
    return Layer(
        "above_ground",
        frame,
        "Point",
        "Things above the ground whose echoes came through the air; nothing underground.",
        Style("#8a6d1a", 3.0, label="kind"),
    )
