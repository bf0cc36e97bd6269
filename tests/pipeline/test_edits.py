"""What a person does to features.gpkg in a GIS survives the next run, by identity and place."""

import geopandas
import numpy as np
import pytest
import shapely
from small_survey import PIPE_DEPTH, PIPE_Y, write_small_survey

import gridmap

E0, N0 = 500000.0, 5400000.0


def read(out, layer="linear"):
    return geopandas.read_file(out / "features.gpkg", layer=layer)


def write(out, frame, layer="linear"):
    """As a GIS writes an edited layer: the whole layer anew, the others untouched."""
    frame.to_file(out / "features.gpkg", layer=layer, driver="GPKG", mode="w")


def add(frame, **fields):
    row = geopandas.GeoDataFrame([fields], geometry="geometry", crs=frame.crs)
    return geopandas.GeoDataFrame(
        geopandas.pd.concat([frame, row], ignore_index=True), geometry="geometry", crs=frame.crs
    )


@pytest.fixture(scope="module")
def edited(tmp_path_factory):
    """Map, edit with geopandas, map again over it: (before, edited layers, after's folder, result)."""
    folder = tmp_path_factory.mktemp("edits")
    site = write_small_survey(folder)
    out = folder / "out"
    gridmap.map(site, out)
    before = read(out)
    assert len(before) == 1, "the one pipe is found"
    linear = before.copy()
    linear.loc[0, ["status", "note", "by", "when"]] = [
        "accepted",
        "seen in the trench",
        "A. Surveyor",
        "2026-05-04",
    ]
    linear.loc[0, ["class", "quality_level"]] = ["water", "PAS 128 QL-A"]
    linear["valve"] = ["V17"]
    drawn = shapely.LineString([(E0 + 0.4, N0 + 0.5), (E0 + 1.9, N0 + 0.5)])
    linear = add(linear, geometry=shapely.force_3d(drawn), note="from the records", by="B. Drawer")
    write(out, linear)
    areas = read(out, "outlines")
    box = shapely.box(E0 + 0.5, N0 + 1.5, E0 + 1.5, N0 + 1.9)
    areas = add(areas, geometry=shapely.force_3d(box), **{"class": "chamber"})
    write(out, areas, "outlines")
    result = gridmap.map(site, out, replace_old=True)
    return before, (linear, areas), out, result, site


def test_an_accepted_line_keeps_every_word(edited):
    """Status, note, by, when, class, quality level and a column of one's own stand as a person wrote them."""
    row = read(edited[2]).set_index("id").loc["L1"]
    assert row[["status", "note", "by", "when"]].tolist() == [
        "accepted", "seen in the trench", "A. Surveyor", "2026-05-04",
    ]  # fmt: skip
    assert row[["class", "quality_level", "valve"]].tolist() == ["water", "PAS 128 QL-A", "V17"]


def test_the_machine_columns_are_its_own(edited):
    """The same lines give the same depth, crossings and shape as before the edit, and no level is granted."""
    before, after = edited[0].iloc[0], read(edited[2]).set_index("id").loc["L1"]
    for name in ("depth_top_m", "depth_sd_m", "crossings", "confidence", "strength"):
        assert after[name] == pytest.approx(before[name], nan_ok=True), name
    assert after.geometry.equals(before.geometry)
    assert "QL-B1" not in (after["quality_level_suggested"] or "")


def test_a_drawn_line_stays_where_it_was_drawn_and_is_measured(edited):
    """Its plan is the person's to the last digit; depth and evidence are filled in, and it has little of it."""
    rows = read(edited[2])
    row = rows[rows["status"] == "drawn"].iloc[0]
    assert row["id"] == "L2"
    assert (row["note"], row["by"]) == ("from the records", "B. Drawer")
    assert shapely.force_2d(row.geometry).equals(shapely.force_2d(edited[1][0].iloc[1].geometry))
    assert np.isfinite(row["depth_top_m"])
    assert "cross it" in row["evidence"]
    assert row["confidence"] < 0.5
    assert "QL-B4" in row["quality_level_suggested"]


def test_a_drawn_area_gets_its_top(edited):
    """A box about the pipe has its strongest echo at the pipe's depth, and keeps its class."""
    rows = read(edited[2], "outlines")
    row = rows[rows["status"] == "drawn"].iloc[0]
    assert row["class"] == "chamber"
    assert row["depth_top_m"] == pytest.approx(PIPE_DEPTH, abs=0.08)
    assert row["area_m2"] == pytest.approx(0.4, abs=0.01)


def test_the_file_before_is_kept(edited):
    """The file that a person worked on stands beside the new one, whole."""
    kept = geopandas.read_file(edited[2] / "features_before.gpkg", layer="linear")
    assert "V17" in kept["valve"].tolist()


def test_a_line_drawn_along_the_pipe_has_the_depth_of_the_pipe(edited, tmp_path):
    """From a file of its own, in another CRS, without any column of ours: depth, crossings and confidence as for a
    found line; the machine's own line gives way and says why."""
    line = shapely.LineString([(E0 + 0.1, N0 + PIPE_Y), (E0 + 2.2, N0 + PIPE_Y)])
    mine = geopandas.GeoDataFrame({"who": ["C"]}, geometry=[line], crs="EPSG:32633").to_crs(4326)
    mine.to_file(tmp_path / "mine.gpkg", layer="my pipe", driver="GPKG")
    out = gridmap.map(edited[4], tmp_path / "out", edits=tmp_path / "mine.gpkg").out
    rows = read(out)
    assert rows["status"].tolist() == ["drawn"]
    row = rows.iloc[0]
    assert row["who"] == "C"
    assert row.geometry.hausdorff_distance(line) < 0.001
    assert row["depth_top_m"] == pytest.approx(PIPE_DEPTH, abs=0.04)
    assert row["crossings"] >= 8
    assert row["confidence"] > 0.5
    reasons = read(out, "rejected")["reason"].tolist()
    assert any("person's shape is kept" in r for r in reasons)


def test_a_moved_line_stays_moved_and_a_rejected_one_stays_rejected(edited, tmp_path):
    """Moved by half a metre, the machine's line does not come back beside it; a second run changes nothing."""
    out = tmp_path / "out"
    gridmap.map(edited[4], out)
    linear = read(out)
    linear["geometry"] = linear.geometry.translate(0.0, 0.5)
    linear.loc[0, "status"] = "rejected"
    write(out, linear)
    seen = []
    for _ in range(2):
        gridmap.map(edited[4], out, replace_old=True)
        seen.append(read(out))
        assert seen[-1][["id", "status"]].to_numpy().tolist() == [["L1", "rejected"]]
        assert shapely.force_2d(seen[-1].geometry[0]).equals(shapely.force_2d(linear.geometry[0]))
    assert seen[0].drop(columns="geometry").equals(seen[1].drop(columns="geometry"))
