"""Records of what a check says."""

import json
import math

import numpy as np

from gridmap.check.finding import CheckedLine, Figure, Finding, Verdict, verdict_record, worst, worst_first
from gridmap.check.stretch import runs


def _finding(line, severity, start, end, kind="dead"):
    return Finding(
        line, kind, severity, start, end, 1, 9, (Figure("traces", 9, "traces"),), "nine dead traces"
    )


def test_worst_come_first_and_longer_stretches_before_shorter():
    found = [
        _finding("A", "note", 0.0, 9.0),
        _finding("B", "walk again", 1.0, 2.0),
        _finding("A", "walk again", 1.0, 4.0),
        _finding("C", "attention", math.nan, math.nan),
    ]
    said = [(f.line, f.severity) for f in worst_first(found, ["A", "B", "C"])]
    assert said == [("A", "walk again"), ("B", "walk again"), ("C", "attention"), ("A", "note")]
    assert worst(found) == "walk again" and worst([]) is None


def test_verdict_becomes_strict_json_with_unknown_numbers_null():
    line = CheckedLine(
        "A", "lines/A.sgy", np.array([[0.0, 0.0], [0.0, 0.05123]]), np.array([0.0, 0.05123]), True, "note"
    )
    verdict = Verdict(True, (_finding("A", "note", math.nan, math.nan),), (line,), "yard")
    record = json.loads(json.dumps(verdict_record(verdict), allow_nan=False))
    assert record["verdict"] == "complete"
    assert record["findings"][0]["from_m"] is None
    assert record["lines"][0]["xy_m"] == [[0.0, 0.0], [0.0, 0.051]]


def test_runs_give_first_and_last_index_and_bridge_short_breaks():
    marked = np.array([0, 1, 1, 0, 1, 0, 0, 1], bool)
    assert runs(marked) == [(1, 2), (4, 4), (7, 7)]
    assert runs(marked, join=1) == [(1, 4), (7, 7)]
    assert runs(np.zeros(3, bool)) == []
