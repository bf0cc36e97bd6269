"""Fields and geometries of the survey's own layers, checked by hand on lines whose answers are plain."""

from pathlib import Path

import numpy as np
import pytest

from gridmap.deliver.layers import LineQuality, control_layer, dropped_traces, lines_walked_layer
from gridmap.errors import OurFaultError
from gridmap.model import IDENTITY, Line, PlacedLine, Similarity
from gridmap.site.records import ControlPoint, LinePlan


def placed(name, start, end, count=101, **more):
    xy = np.linspace(start, end, count)
    along = np.linspace(0.0, np.hypot(*np.subtract(end, start)), count)
    return PlacedLine(Line(name, np.zeros((count, 64), np.float32), 0.25, source="L.sgy", **more), xy, along)


@pytest.mark.parametrize(
    ("end", "bearing"),
    [((0, 10), 0.0), ((10, 0), 90.0), ((0, -10), 180.0), ((-10, 0), 270.0), ((-10, 10), 315.0)],
)
def test_direction_is_clockwise_from_north(end, bearing):
    """A line along local y runs north, along x east, where the grid is not turned."""
    layer = lines_walked_layer([placed("A", (0, 0), end)], [], IDENTITY)
    assert layer.frame["direction_deg"][0] == pytest.approx(bearing)


def test_a_turned_grid_turns_the_line():
    """With the grid turned 90 degrees anticlockwise, local x runs north: (10, 0) lands at (E0, N0 + 10)."""
    turned = Similarity(1000.0, 2000.0, 0.0, 1.0)
    frame = lines_walked_layer([placed("A", (0, 0), (10, 0))], [], turned).frame
    assert frame["direction_deg"][0] == pytest.approx(0.0)
    np.testing.assert_allclose(frame.geometry[0].coords, [(1000, 2000), (1000, 2010)], atol=1e-9)


def test_a_line_tells_its_length_traces_and_gaps():
    """A 10 m line of 101 traces with numbers 7 and 8 missing: 0.1 m apart, two dropped."""
    number = np.delete(np.arange(103), [7, 8])
    line = placed("L01", (0, 0), (0, 10), trace_number=number, notes=("interval read as ps", "checked"))
    plan = LinePlan("L01", Path("/somewhere/data/walk01.sgy"), (0, 0), (0, 10))
    row = lines_walked_layer([line], [plan], IDENTITY).frame.iloc[0]
    assert (row["name"], row["file"], row["traces"], row["samples"]) == ("L01", "walk01.sgy", 101, 64)
    assert row["length_m"] == pytest.approx(10.0)
    assert row["trace_interval_m"] == pytest.approx(0.1)
    assert row["dropped_traces"] == 2
    assert row["note"] == "interval read as ps; checked"


def test_a_bend_keeps_its_vertices():
    """A path that bends by more than a millimetre keeps the bend; the straight parts keep their ends only."""
    xy = np.vstack([np.linspace((0, 0), (0, 5), 51), np.linspace((0, 5), (2, 8), 51)[1:]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    bent = PlacedLine(Line("A", np.zeros((101, 4), np.float32), 0.2), xy, along)
    path = lines_walked_layer([bent], [], IDENTITY).frame.geometry[0]
    np.testing.assert_allclose(path.coords, [(0, 0), (0, 5), (2, 8)], atol=1e-9)


def test_dropped_traces_are_counted_only_where_traces_are_numbered():
    """No numbers: not known. Numbers that run backward count as well as forward ones."""
    assert dropped_traces(None) is None
    assert dropped_traces(np.array([1, 2, 3])) == 0
    assert dropped_traces(np.array([10, 9, 5, 4])) == 3
    layer = lines_walked_layer([placed("A", (0, 0), (1, 0))], [], IDENTITY)
    assert layer.frame["dropped_traces"].isna().all()


def test_a_single_trace_is_no_line():
    """One trace cannot be drawn: refused with the line's name."""
    one = PlacedLine(Line("L9", np.zeros((1, 4), np.float32), 0.2), np.zeros((1, 2)), np.zeros(1))
    with pytest.raises(OurFaultError, match="line L9"):
        lines_walked_layer([one], [], IDENTITY)


def test_residuals_are_centimetres():
    """3 cm east and 4 cm north off is 5 cm off; the point stays where it was surveyed."""
    points = [ControlPoint("P1", 0.0, 0.0, 100.0, 200.0), ControlPoint("P2", 10.0, 0.0, 110.0, 200.0)]
    frame = control_layer(points, np.array([[0.03, 0.04], [0.0, 0.0]])).frame
    assert list(frame["residual_cm"]) == [5.0, 0.0]
    assert frame["residual_east_cm"][0] == 3.0
    assert frame["residual_north_cm"][0] == 4.0
    assert (frame.geometry[0].x, frame.geometry[0].y) == (100.0, 200.0)
    assert control_layer(points, None).frame["residual_cm"].isna().all()
    with pytest.raises(OurFaultError, match="2 points"):
        control_layer(points, np.zeros((1, 2)))


def test_quality_of_a_line_stands_beside_it():
    """Traces left out, misfit and findings come with the line; a line without any has none."""
    layer = lines_walked_layer(
        [placed("A", (0, 0), (0, 5)), placed("B", (1, 0), (1, 5))],
        [],
        IDENTITY,
        {"B": LineQuality(3, 4.21, -0.123, ("started late",))},
    )
    assert list(layer.frame["left_out"]) == [0, 3]
    assert layer.frame["crossing_cm"].iloc[1] == 4.2
    assert np.isnan(layer.frame["crossing_ns"].iloc[0])
    assert list(layer.frame["findings"]) == ["", "started late"]
