"""Plan, walk, map: no step by hand in between but putting the files in their place."""

import csv
import json
import tomllib

import pytest
from small_survey import CONTROL, PIPE_DEPTH, traces_of

import gridmap
from gridmap.errors import OutputError, SiteError
from gridmap.read.segy_write import write_segy
from gridmap.site.load import load_site

REQUEST = f"""
[site]
name = "Bleaching green, Unterau"
crs = "EPSG:32633"
sides_m = [2.25, 3.0]

{CONTROL}
[sought]
shape = "line"
material = "metal"
size_m = 0.1
depth_m = 0.8
trend = "x"

[ground]
medium = "topsoil"
wetness = "moist"
velocity_m_per_ns = 0.1
velocity_sd_m_per_ns = 0.004

[[antenna]]
frequency_mhz = 400
separation_m = 0.0
"""


@pytest.fixture
def request_file(tmp_path):
    path = tmp_path / "green.toml"
    path.write_text(REQUEST, encoding="utf-8")
    return path


def test_plan_then_lines_then_map(request_file, tmp_path):
    """The planned site file loads as soon as the lines lie where the sheet says, and the map finds the pipe."""
    plan = gridmap.plan_grid(request_file, tmp_path / "plan")
    site_file = tmp_path / "plan" / "site.toml"
    with pytest.raises(SiteError, match="Y001"):
        load_site(site_file)
    assert [line.name for line in plan.lines] == [f"Y{k:03d}" for k in range(1, 11)]
    for k, line in enumerate(plan.lines):  # the made survey walks along y, zig-zag, 0.25 m apart
        assert line.start_m == (0.25 * k, 3.0 * (k % 2))
        path = tmp_path / "plan" / "lines" / f"{line.name}.sgy"
        write_segy(path, traces_of(k), sample_interval_ps=200)
    site = load_site(site_file)
    assert site.antenna.frequency_mhz == plan.choice.antenna.frequency_mhz == 400
    assert site.ground.velocity_m_per_ns == 0.1
    result = gridmap.map(site_file, tmp_path / "map")
    found = json.loads((tmp_path / "map" / "features.geojson").read_text(encoding="utf-8"))["features"]
    assert result.out == tmp_path / "map"
    pipes = [f["properties"] for f in found if f["properties"]["layer"] == "linear"]
    assert len(pipes) == 1  # how many of the ten lines show it is for the tests of features to say
    assert pipes[0]["depth_top_m"] == pytest.approx(PIPE_DEPTH, abs=0.05)


def test_stakes_and_figures_are_read_back(request_file, tmp_path):
    """stakes.csv and plan.json say the same of each line end, and both lie on the control points."""
    plan = gridmap.plan_grid(request_file, tmp_path / "plan")
    with (tmp_path / "plan" / "stakes.csv").open(encoding="utf-8", newline="") as stream:
        stakes = {row["stake"]: row for row in csv.DictReader(stream)}
    record = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert len(record["lines"]) == len(plan.lines)
    for line in record["lines"]:
        for which in ("start", "end"):
            row = stakes[f"{line['name']} {which}"]
            assert [float(row["x_m"]), float(row["y_m"])] == line[f"{which}_m"]
            assert float(row["easting_m"]) == pytest.approx(500000 + line[f"{which}_m"][0], abs=1e-3)
            assert line[f"{which}_map_m"][1] == pytest.approx(5400000 + line[f"{which}_m"][1], abs=1e-3)
    for figure in record["figures"].values():
        assert figure["formula"]
        assert figure["source"]
    assert record["caution"].startswith("This map shows where")


def test_corners_on_the_map_give_pegs_for_the_site_file(tmp_path):
    """The grid laid along a field's longest side comes with its pegs, and the site file says where they are."""
    options = tomllib.loads(REQUEST)
    del options["control"]
    corners = [[500000.0, 5400000.0], [500008.0, 5400006.0], [500005.0, 5400010.0], [499997.0, 5400004.0]]
    options["site"] = {"name": 'A "field" \\ 1', "crs": "EPSG:32633", "corners_map_m": corners}
    gridmap.plan_grid(None, tmp_path / "plan", options=options)
    written = tomllib.loads((tmp_path / "plan" / "site.toml").read_text(encoding="utf-8"))
    assert written["site"]["name"] == 'A "field" \\ 1'
    assert written["site"]["size_m"] == [10, 5]
    assert [peg["map_m"] for peg in written["control"]] == corners


def test_options_overrule_the_file_and_nothing_is_replaced(request_file, tmp_path):
    """A folder that holds anything is left alone; another area takes the old one's place."""
    out = tmp_path / "plan"
    plan = gridmap.plan_grid(request_file, out, options={"sought": {"depth_m": 2.0}})
    assert (plan.request.sought.depth_m, plan.request.sought.size_m) == (2.0, 0.1)
    with pytest.raises(OutputError, match="not empty"):
        gridmap.plan_grid(request_file, out)
    text = REQUEST.replace("sides_m = [2.25, 3.0]", "corners_m = [[0, 0], [3, 0], [0, 3]]")
    request_file.write_text(text, encoding="utf-8")
    other = gridmap.plan_grid(request_file, options={"site": {"sides_m": [4.0, 4.0]}})
    assert other.frame.corners_m[2] == (4.0, 4.0)


def test_a_field_of_any_shape_loads_line_by_line(tmp_path):
    """A notch cuts lines in two, the grid begins away from its origin; the site has each piece as planned."""
    options = tomllib.loads(REQUEST)
    del options["control"], options["site"]["crs"], options["site"]["sides_m"]
    options["site"]["corners_m"] = [[5, -3], [25, -3], [25, 7], [17, 7], [17, 1], [13, 1], [13, 7], [5, 7]]
    options["sought"]["trend"] = "any"
    options["walk"] = {"suffix": "dat", "zigzag": False}
    plan = gridmap.plan_grid(None, tmp_path / "plan", options=options)
    for line in plan.lines:
        (tmp_path / "plan" / "lines" / f"{line.name}.dat").touch()
    site = load_site(tmp_path / "plan" / "site.toml")
    assert len(site.lines) == len(plan.lines) > 120
    assert site.size_m is None
    for loaded, planned in zip(site.lines, plan.lines, strict=True):
        assert loaded.name == planned.name
        assert (loaded.start_m, loaded.end_m) == (planned.start_m, planned.end_m)
