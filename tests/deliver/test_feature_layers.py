"""Layers of what was found, reopened by geopandas."""

import geopandas as gpd
import numpy as np
import pytest

from gridmap.deliver.feature_layers import feature_layers
from gridmap.deliver.gpkg import write_features
from gridmap.features.ground import Ground
from gridmap.features.interpret import interpret
from gridmap.model import Features, LinearFeature, OutlineFeature, PointFeature, RejectedCandidate, Similarity

TURNED = Similarity(500_000.0, 5_400_000.0, 0.0, 1.0)  # local x points north

FOUND = Features(
    linear=(
        LinearFeature(np.array([[0, 1, 0.5], [4, 1, 0.9]], float), 0.03, None, 8.0, 0.9, 9, "unclear", "n"),
    ),
    outlines=(
        OutlineFeature(
            np.array([[2.0, 2], [4, 2], [4, 3], [2, 3]]), 0.7, 0.04, 0.3, 2.0, 1.0, 0.0, 10.0, 0.8
        ),
    ),
    points=(PointFeature(np.array([1.0, 1.0, 0.4]), 0.05, 6.0, 0.7),),
    rejected=(
        RejectedCandidate("linear", np.array([[0, 0, 1], [1, 0, 1.0]]), "stripe"),
        RejectedCandidate("point", np.array([[3.0, 3.0, 1.0]]), "ringing"),
    ),
)


def written(tmp_path, found):
    path = tmp_path / "f.gpkg"
    no_ground = Ground(None, [], 0.1, None, 400.0, 0.2)  # nothing drawn, nothing measured
    told = interpret(found, (), TURNED, no_ground)
    write_features(path, feature_layers(told, TURNED, [], tied=True), "EPSG:32633")
    return {n: gpd.read_file(path, layer=n) for n in ("linear", "outlines", "points", "rejected")}


def test_features_lie_on_the_map_at_minus_their_depth(tmp_path):
    """Local x is north here: (4, 1) is 1 m west and 4 m north of the origin; Z is minus the depth."""
    layers = written(tmp_path, FOUND)
    end = layers["linear"].geometry[0].coords[-1]
    assert end == pytest.approx((499_999.0, 5_400_004.0, -0.9))
    row = layers["linear"].iloc[0]
    assert (row["depth_start_m"], row["depth_end_m"], row["crossings"]) == (0.5, 0.9, 9)
    assert row["length_m"] == pytest.approx(4.0)
    tank = layers["outlines"].iloc[0]
    assert tank["bearing_deg"] == pytest.approx(0.0)  # the long side runs along local x, north
    assert tank["area_m2"] == pytest.approx(2.0)
    assert all(g.is_valid and g.has_z for layer in layers.values() for g in layer.geometry)
    assert list(layers["rejected"]["reason"]) == ["stripe", "ringing"]


def test_nothing_found_gives_empty_layers_with_all_fields(tmp_path):
    """An empty layer has the fields of a full one, so that a plan made with one opens with the other."""
    full, empty = written(tmp_path, FOUND), {}
    (tmp_path / "e").mkdir()
    empty = written(tmp_path / "e", Features())
    for name, layer in full.items():
        assert len(empty[name]) == 0
        assert list(empty[name].columns) == list(layer.columns)
