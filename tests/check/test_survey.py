"""Lines judged together: holes, edges, copies, settings, and what is told once."""

import numpy as np
import pytest

from gridmap.check.coverage import find_edges, find_holes, rows_of, usual_spacing_m
from gridmap.check.finding import Figure
from gridmap.check.line import LineCheck
from gridmap.check.setup import Setup
from gridmap.check.stretch import lost_severity, whole_line
from gridmap.check.survey import check_survey

SETUP = Setup(300.0, 0.15, line_spacing_m=0.5)


def _line(name, x, count=101, length=5.0, **more):
    along = np.linspace(0.0, length, count)
    given = {
        "findings": (), "bad": np.zeros(count, bool), "wave_size": 1.0, "zero_ns": 3.0, "noise": 1e-3,
        "sample_interval_ns": 0.2, "samples": 250, "digest": name,
    }  # fmt: skip
    return LineCheck(
        name, f"{name}.sgy", np.column_stack([np.full(count, x), along]), along, **{**given, **more}
    )


def _tone(name, mhz):
    return whole_line(name, "tone", "note", (Figure("frequency", mhz, "MHz"), Figure("share", 30.0)), "tone")


def _kinds(verdict):
    return {(f.line, f.kind) for f in verdict.findings}


def test_even_lines_have_nothing_to_say():
    """Eight lines half a metre apart over a grid of 3.5 m."""
    verdict = check_survey("yard", [_line(f"L{k}", 0.5 * k) for k in range(8)], SETUP, size_m=(3.5, 5.0))
    assert verdict.complete and verdict.findings == ()


def test_hole_is_counted_in_lines():
    """Lines 3 and 4 are lacking."""
    xs = [0.5 * k for k in range(10) if k not in (3, 4)]
    names = [f"L{x}" for x in xs]
    lines = [np.array([[x, 0.0], [x, 5.0]]) for x in xs]
    rows = rows_of(names, lines)
    assert usual_spacing_m(rows) == pytest.approx(0.5)
    (hole,) = find_holes(rows, dict(zip(names, lines, strict=True)))
    assert {g.name: g.value for g in hole.figures}["lines lacking"] == 2


def test_lines_that_do_not_run_beside_each_other_are_no_neighbours():
    """Two blocks, one after the other along the lines: no hole between them."""
    names, lines = [], []
    for x, y in [(0.5 * k, 0.0) for k in range(5)] + [(4.0 + 0.5 * k, 20.0) for k in range(5)]:
        names.append(f"L{len(names)}")
        lines.append(np.array([[x, y], [x, y + 5.0]]))
    assert find_holes(rows_of(names, lines), dict(zip(names, lines, strict=True))) == []


def test_edge_of_the_grid_that_no_line_came_near():
    """The grid is 4.5 m wide and the last line lies at 3.5 m."""
    rows = rows_of(
        [f"L{k}" for k in range(8)], [np.array([[0.5 * k, 0.0], [0.5 * k, 5.0]]) for k in range(8)]
    )
    (edge,) = find_edges(rows, (4.5, 5.0))
    assert edge.kind == "coverage" and "x = 4.5" in edge.words
    assert find_edges(rows, (3.6, 5.0)) == []


def test_lines_that_differ_from_the_others_are_named():
    """One is a copy, one weak, one noisy, one of another sample interval, one short of traces."""
    lines = [_line(f"L{k}", 0.5 * k) for k in range(12)]
    lines[2] = _line("L2", 1.0, digest="L1")
    lines[4] = _line("L4", 2.0, wave_size=0.3)
    lines[6] = _line("L6", 3.0, noise=5e-3)
    lines[8] = _line("L8", 4.0, sample_interval_ns=0.1)
    lines[10] = _line("L10", 5.0, count=60)
    said = _kinds(check_survey("yard", lines, SETUP))
    assert said == {
        ("L2", "duplicate"),
        ("L4", "weak"),
        ("L6", "noisy"),
        ("L8", "settings"),
        ("L10", "short"),
    }


def test_tone_on_several_lines_is_told_once():
    """A transmitter is there for all lines."""
    lines = [_line(f"L{k}", 0.5 * k, findings=(_tone(f"L{k}", 430.0 + k),)) for k in range(5)]
    verdict = check_survey("yard", lines, SETUP)
    assert [(f.line, f.kind) for f in verdict.findings] == [("", "tone")]
    assert verdict.findings[0].figures[0].value == pytest.approx(432.0)


def test_lost_stretch_is_bad_from_a_line_spacing_on():
    """A quarter of a wavelength of 33 cm is bridged; half a metre between lines is left open anyway."""
    assert [lost_severity(x, SETUP) for x in (0.05, 0.3, 0.6)] == ["note", "attention", "walk again"]
