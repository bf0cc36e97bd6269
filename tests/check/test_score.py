"""Figures of a score on a hand-made plan, worked out by hand."""

import json
import math

import geopandas as gpd
import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from shapely import LineString, box

import gridmap
from gridmap.check.score import score_plan
from gridmap.cli.main import cli
from gridmap.errors import ReadError
from gridmap.model.known import DeepArea, DeepLine, DeepPlan
from gridmap.read.known_ground import read_known

SITE = box(0, 0, 20, 10)


def deep(name, points, *depths):
    return DeepLine(name, LineString(points), np.array(depths, float))


def test_a_line_found_beside_the_true_one_and_a_false_one():
    """True: 10 m. Told: 8 m of it 0.05 m aside and 0.1 m too deep, and 2 m where nothing is.

    The end is within 0.15 m up to 8 + sqrt(0.15^2 - 0.05^2) = 8.141 m: recall 0.814; precision 8 / 10; one false
    line on 200 m2.
    """
    told = DeepPlan((deep("L1", [(0, 5.05), (8, 5.05)], 1.1, 1.1), deep("L2", [(0, 1), (2, 1)], 1, 1)))
    known = DeepPlan((deep("main", [(0, 5), (10, 5)], 1.0, 1.0),))
    got = score_plan(told, known, SITE)
    assert got.recall == pytest.approx((8 + math.sqrt(0.15**2 - 0.05**2)) / 10, abs=0.003)
    assert got.precision == pytest.approx(0.8, abs=0.002)
    assert got.lateral_median_m == pytest.approx(0.05)
    assert (got.depth_median_m, got.depth_abs_p90_m) == pytest.approx((0.1, 0.1))
    assert (got.false_lines, got.false_per_100_m2) == (1, 0.5)


def test_a_dipping_line_is_compared_where_it_lies():
    """Both fall from 0.5 to 1.5 m over 10 m; the one told is a metre longer at its end and as deep at each place."""
    known = DeepPlan((deep("drain", [(0, 5), (10, 5)], 0.5, 1.5),))
    told = DeepPlan((deep("L1", [(11, 5), (0, 5)], 1.6, 0.5),))
    got = score_plan(told, known, SITE)
    assert got.recall == 1.0
    assert got.depth_median_m == pytest.approx(0.0, abs=1e-6)
    assert got.depth_abs_p90_m == pytest.approx(0.0, abs=1e-6)
    assert got.precision == pytest.approx((10 + 0.15) / 11, abs=0.003)


def test_areas_by_intersection_over_union():
    """2 by 1 m, told half a metre aside: 1.5 / 2.5; the top 5 cm too deep; a second one is not told."""
    known = DeepPlan((), (DeepArea("tank", box(2, 2, 4, 3), 0.7), DeepArea("pit", box(8, 8, 9, 9), 1.0)))
    told = DeepPlan((), (DeepArea("A1", box(2.5, 2, 4.5, 3), 0.75),))
    got = score_plan(told, known, SITE)
    assert [a.overlap for a in got.areas] == pytest.approx([0.6, 0.0])
    assert got.areas[0].best == "A1"
    assert got.areas[0].depth_error_m == pytest.approx(0.05)
    assert (got.areas_found, got.areas_known, got.areas_told) == (1, 2, 1)
    assert got.overlap_mean == pytest.approx(0.3)
    assert math.isnan(got.recall)


def test_what_is_known_beyond_the_survey_does_not_count():
    """10 of 14 m lie within the site; all of them are found; the 4 m are told of."""
    known = DeepPlan((deep("main", [(10, 5), (24, 5)], 1, 1),))
    told = DeepPlan((deep("L1", [(10, 5), (20, 5)], 1, 1),))
    got = score_plan(told, known, SITE)
    assert got.recall == 1.0
    assert got.outside_m == pytest.approx(4.0, abs=0.03)


def test_empty_ground_and_empty_maps_have_no_share():
    """Nothing known: no recall; a line told there is false. Nothing told: recall 0, no precision."""
    line = DeepPlan((deep("x", [(0, 5), (10, 5)], 1, 1),))
    empty = score_plan(line, DeepPlan(), SITE)
    assert math.isnan(empty.recall)
    assert (empty.precision, empty.false_lines) == (0.0, 1)
    silent = score_plan(DeepPlan(), line, SITE)
    assert silent.recall == 0.0
    assert math.isnan(silent.precision)


@pytest.fixture
def files(tmp_path):
    """The first case above as files: a map in EPSG:32633, the truth in EPSG:25833 (the same grid)."""
    e, n = 500_000.0, 5_400_000.0

    def frame(rows, crs=32633):
        return gpd.GeoDataFrame(rows, crs=crs).set_geometry(
            [shapely.transform(r, lambda xy: np.add(xy, [e, n])) for r in rows["geometry"]]
        )

    told = frame(
        {
            "id": ["L1", "L2", "L3"],
            "status": ["found", "found", "rejected"],
            "depth_top_m": [1.1, 1.0, 1.0],
            "depth_start_m": [1.1, 1.0, 1.0],
            "depth_end_m": [1.1, 1.0, 1.0],
            "geometry": [
                LineString([(0, 5.05), (8, 5.05)]),
                LineString([(0, 1), (2, 1)]),
                LineString([(0, 8), (9, 8)]),
            ],
        }
    )
    areas = frame(
        {"id": ["A1"], "status": ["found"], "depth_top_m": [0.75], "geometry": [box(2.5, 2, 4.5, 3)]}
    )
    walked = frame(
        {"name": ["a", "b"], "geometry": [LineString([(0, 0), (0, 10)]), LineString([(20, 0), (20, 10)])]}
    )
    out = tmp_path / "out"
    out.mkdir()
    for name, layer in (("linear", told), ("outlines", areas), ("lines_walked", walked)):
        layer.to_file(out / "features.gpkg", layer=name, driver="GPKG")
    truth = tmp_path / "truth.gpkg"
    main = frame({"id": ["main"], "depth_top_m": [1.0], "geometry": [LineString([(0, 5), (10, 5)])]}).to_crs(
        25833
    )
    main.to_file(truth, layer="linear", driver="GPKG")
    tank = frame({"id": ["tank"], "depth_top_m": [0.7], "geometry": [box(2, 2, 4, 3)]}).to_crs(25833)
    tank.to_file(truth, layer="outlines", driver="GPKG")
    return out, truth


def test_the_command_reads_both_files_and_says_so(files):
    """The same figures through GeoPackages in two CRS; what a person rejected is no claim of the map's."""
    out, truth = files
    done = CliRunner().invoke(cli, ["score", str(out), str(truth), "--json"], standalone_mode=False)
    got = json.loads(done.output)
    assert got["recall"] == pytest.approx(0.814, abs=0.003)
    assert got["precision"] == pytest.approx(0.8, abs=0.003)
    assert got["surveyed_m2"] == pytest.approx(200.0)
    assert got["areas"][0]["overlap"] == pytest.approx(0.6, abs=0.002)
    words = CliRunner().invoke(cli, ["score", str(out), str(truth)], standalone_mode=False).output
    assert "81.4 %" in words
    assert "main" in words
    assert gridmap.score(out, truth, near_m=0.01).recall == 0.0


def test_a_truth_without_a_crs_or_without_layers_is_refused(files, tmp_path):
    """Said with the file, the layer and what to do."""
    bare = tmp_path / "bare.gpkg"
    gpd.GeoDataFrame({"id": ["x"]}, geometry=[LineString([(0, 0), (1, 0)])]).to_file(
        bare, layer="linear", driver="GPKG"
    )
    with pytest.raises(ReadError, match=r"bare.gpkg, layer linear: no CRS, but the map has one"):
        gridmap.score(files[0], bare)
    with pytest.raises(ReadError, match="no layer linear"):
        read_known(_renamed(bare, tmp_path), None)
    with pytest.raises(ReadError, match="cannot be read"):
        gridmap.score(files[0], tmp_path / "none.gpkg")


def _renamed(path, folder):
    other = folder / "other.gpkg"
    gpd.read_file(path).to_file(other, layer="pipes", driver="GPKG")
    return other
