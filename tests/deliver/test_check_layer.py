"""Layer `check`: stretches of findings lie where the line was walked."""

import math

import numpy as np
import pytest

from gridmap.check.finding import Finding
from gridmap.deliver.check_layer import check_layer
from gridmap.model import IDENTITY, Line, PlacedLine, Similarity


def _line(name="A", count=101):
    along = np.linspace(0.0, 10.0, count)
    line = Line(name, np.zeros((count, 8), np.float32), 0.2)
    return PlacedLine(line, np.column_stack([np.full(count, 2.0), along]), along)


def _finding(first, last, line="A", severity="attention"):
    a, b = (math.nan, math.nan) if first is None else (0.1 * (first - 1), 0.1 * (last - 1))
    return Finding(line, "dead", severity, a, b, first, last, (), "dead traces", "check the cable")


def test_stretch_lies_on_its_traces_and_reaches_to_their_neighbours():
    """Traces 11 to 21 of a line along y are 1.0 to 2.0 m; a single trace has a length too."""
    frame = check_layer([_finding(11, 21), _finding(51, 51)], [_line()], IDENTITY).frame
    np.testing.assert_allclose(frame.geometry[0].coords, [(2.0, 0.9), (2.0, 2.1)], atol=1e-9)
    assert frame.geometry[1].length == pytest.approx(0.2)
    assert list(frame["severity"]) == ["attention", "attention"]
    assert frame["from_m"][0] == pytest.approx(1.0)


def test_whole_line_and_what_has_no_place():
    """A finding of a whole line takes all of it; of the survey, or of a line that is not mapped, none."""
    findings = [_finding(None, None), _finding(None, None, line=""), _finding(1, 2, line="B")]
    frame = check_layer(findings, [_line()], Similarity(100.0, 200.0, 1.0, 0.0)).frame
    assert len(frame) == 1 and np.isnan(frame["from_m"][0])
    np.testing.assert_allclose(frame.geometry[0].coords, [(102.0, 200.0), (102.0, 210.0)], atol=1e-9)


def test_layer_without_findings_is_empty_and_has_its_fields():
    """An empty layer says that nothing was found."""
    frame = check_layer([], [_line()], IDENTITY).frame
    assert len(frame) == 0 and {"line", "kind", "severity", "words", "todo"} <= set(frame.columns)
