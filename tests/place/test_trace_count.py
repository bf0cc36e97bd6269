"""Late starts told by the count of traces, on lines of our own."""

from dataclasses import replace

import numpy as np
import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.model import CleanLine
from gridmap.place.late import find_along_faults
from gridmap.place.strips import even_strips
from gridmap.place.trace_count import missing_by_count


def _line(name, count, length=6.0):
    along = np.linspace(0, length, count)
    xy = np.stack([np.zeros(count), along], axis=1)
    return CleanLine(name, xy, along, np.zeros((count, 4), np.float32), np.ones(count, bool), 0.0)


def test_missing_length_is_what_was_not_recorded():
    """Of 6 m at 5 cm the first 0.6 m are not there: 0.6 m is missing, far outside what wheels scatter by."""
    lines = [_line(f"L{i}", 120 + k) for i, k in enumerate((0, 1, -1, 1, 0, 0, -1, 1))]
    lines[3] = _line("L3", 109)
    found = missing_by_count(lines)
    assert found["L3"].missing_m == pytest.approx(0.6, abs=0.06)
    assert found["L3"].z > 5
    assert max(v.z for name, v in found.items() if name != "L3") < 2


def test_equal_intervals_say_nothing():
    """Lines placed by the wheel alone all have its nominal interval: no line is short of traces."""
    assert missing_by_count([_line(f"L{i}", 121) for i in range(8)]) == {}
    assert missing_by_count([_line(f"L{i}", 100 + i) for i in range(5)]) == {}  # too few lines


def test_late_start_in_quiet_ground_is_told_by_the_count():
    """Noise alone: the line is named, its end not; all others stay unnamed."""
    lines = zigzag(Ground(1, strength=0.0), noise=1.0)
    rng = np.random.default_rng(2)
    for i, line in enumerate(lines):
        keep = len(line.traces) - int(rng.integers(0, 3)) - (14 if i == 5 else 0)
        share = np.linspace(0, 1, keep)
        xy = line.xy_m[0] + share[:, None] * (line.xy_m[-1] - line.xy_m[0])
        lines[i] = replace(
            line,
            xy_m=xy,
            along_m=share * line.along_m[-1],
            traces=line.traces[:keep],
            usable=line.usable[:keep],
        )
    (group,) = even_strips(lines, INTERVAL_NS, step_m=0.05)
    found, _ = find_along_faults(group, (), missing_by_count(lines))
    assert [(f.name, f.shape) for f in found] == [("L06", "too few traces")]
    assert found[0].size_m == pytest.approx(0.7, abs=0.15)
    assert "cannot be told" in found[0].words
