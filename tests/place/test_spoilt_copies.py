"""Estimators against the truth of spoilt copies of the simulated surveys, made by the shared spoil.py."""

from pathlib import Path

import pytest

from benchmarks.spoilt_table import copies, run

SHARED = Path(__file__).parents[2] / "../shared"
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        not (SHARED / "spoil.py").is_file(), reason="the simulated surveys are not beside the repository"
    ),
]


def test_some_spoilt_copies():
    """Yard: stagger within 2 cm, lines named and sized, no false alarm; a displaced line may stay unnamed."""
    wanted = [c for c in copies(SHARED.resolve(), 23, ("yard",)) if c.what != "wheel"]
    rows = run(SHARED.resolve(), wanted)
    sized = [r for r in rows if not (r.what.endswith("displaced") and r.estimate == "not named")]
    assert [(r.what, r.truth, r.estimate) for r in sized if r.good is False] == []
    assert sum(r.good is True for r in rows) >= len(rows) - 2  # nor can a line at the edge be told to be late
    assert {r.false_alarms for r in rows} == {"none"}


def test_quiet_meadow_raises_no_alarm():
    """Meadow, which holds nothing: no line named, stagger below 1 cm or not told."""
    rows = run(SHARED.resolve(), [c for c in copies(SHARED.resolve(), 1, ("meadow",)) if not c.options])
    assert {r.false_alarms for r in rows} == {"none"}
    assert all(r.good is not False for r in rows)
