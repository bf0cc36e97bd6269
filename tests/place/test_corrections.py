"""Crossings, levels, and corrections applied or only reported, on ground of our own."""

from dataclasses import replace

import numpy as np
import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.place.corrections import apply_corrections, estimate_corrections
from gridmap.place.crossings import crossing_misfits
from gridmap.place.level import line_levels
from gridmap.site.records import Corrections as Choices


def _grid(ground, shift_first=0.0):
    lines = zigzag(ground, lines=13, start_x=0.6, length=5.0)
    lines += zigzag(ground, lines=13, start_x=0.6, along_x=True, length=4.5, prefix="M", seed=9)
    if shift_first:
        line = lines[6]
        ahead = (line.xy_m[-1] - line.xy_m[0]) / line.along_m[-1]
        lines[6] = replace(line, xy_m=line.xy_m - shift_first * ahead)
    return lines


def test_crossings_show_a_shift_in_centimetres():
    """A line 10 cm behind shows +10 cm against its crossing lines, others less than 4 cm at the median."""
    found = {c.name: c for c in crossing_misfits(_grid(Ground(1), 0.10), INTERVAL_NS)}
    assert found["L07"].along_cm == pytest.approx(10, abs=4)
    rest = [abs(c.along_cm) for name, c in found.items() if name != "L07"]
    assert np.nanmedian(rest) < 4


def test_crossings_show_time_in_nanoseconds():
    """A line whose clock starts 1 ns early shows +1 ns against its crossing lines."""
    lines = _grid(Ground(1))
    late = np.roll(lines[6].traces, 5, axis=1)
    lines[6] = replace(lines[6], traces=late)
    found = {c.name: c for c in crossing_misfits(lines, INTERVAL_NS)}
    assert found["L07"].time_ns == pytest.approx(1.0, abs=0.25)


def test_level_of_one_line():
    """One line 0.6 ns late and twice as strong stands out; sound lines do not."""
    lines = zigzag(Ground(2))
    assert not any(v.time_stands_out or v.factor_stands_out for v in line_levels(lines, INTERVAL_NS))
    lines[5] = replace(lines[5], traces=2 * np.roll(lines[5].traces, 3, axis=1))
    level = next(v for v in line_levels(lines, INTERVAL_NS) if v.name == "L06")
    assert level.time_stands_out and level.time_ns == pytest.approx(0.6, abs=0.1)
    assert level.factor_stands_out and level.factor == pytest.approx(2.0, rel=0.2)


def test_a_strong_body_under_one_line_is_no_gain():
    """An echo thirty times as strong in a seventh of one line hardly moves its level: the gain was the same."""
    lines = zigzag(Ground(1))
    strong = lines[5].traces.copy()
    strong[40:64, 60:80] *= 30.0
    lines[5] = replace(lines[5], traces=strong)
    level = next(v for v in line_levels(lines, INTERVAL_NS) if v.name == "L06")
    assert not level.factor_stands_out
    # A seventh of the samples gone to the top moves the median of a normal's size from 0.67 to 0.80 deviations: 1.18.
    assert 1.0 < level.factor < 1.2


def test_stagger_is_applied_and_gone():
    """By default stagger is put right: what is left is below 1 cm, and positions are the true ones."""
    lines = zigzag(Ground(1), behind=0.08)
    found = estimate_corrections(lines, INTERVAL_NS)
    assert [(f.kind, f.applied) for f in found.findings] == [("stagger", True)]
    fixed = apply_corrections(lines, INTERVAL_NS, found)
    assert fixed[0].xy_m[0, 1] - lines[0].xy_m[0, 1] == pytest.approx(0.08, abs=0.01)
    assert fixed[1].xy_m[0, 1] - lines[1].xy_m[0, 1] == pytest.approx(-0.08, abs=0.01)
    assert abs(estimate_corrections(fixed, INTERVAL_NS).stagger.stagger_m) < 0.01


def test_reversed_line_is_reported_and_left_unless_asked():
    """A person decides: by default a reversed line is named and left; with "apply" its traces turn."""
    lines = zigzag(Ground(1))
    lines[4] = replace(lines[4], traces=lines[4].traces[::-1])
    found = estimate_corrections(lines, INTERVAL_NS)
    assert [(f.kind, f.applied) for f in found.findings] == [("reversed", False)]
    assert np.array_equal(apply_corrections(lines, INTERVAL_NS, found)[4].traces, lines[4].traces)
    asked = estimate_corrections(lines, INTERVAL_NS, Choices(reversed="apply"))
    fixed = apply_corrections(lines, INTERVAL_NS, asked)
    assert np.allclose(fixed[4].xy_m, lines[4].xy_m)
    assert np.array_equal(fixed[4].traces, lines[4].traces[::-1])
    assert estimate_corrections(fixed, INTERVAL_NS).findings == ()


def test_switched_off_is_not_reported():
    """With stagger off nothing is found or moved."""
    lines = zigzag(Ground(1), behind=0.08)
    found = estimate_corrections(lines, INTERVAL_NS, Choices(stagger="off"))
    assert "stagger" not in [f.kind for f in found.findings]
    fixed = apply_corrections(lines, INTERVAL_NS, found)
    assert all(np.array_equal(a.xy_m, b.xy_m) for a, b in zip(fixed, lines, strict=True))


def test_copy_is_left_out_when_asked():
    """With duplicate = "apply" the copy takes no part in the map."""
    lines = zigzag(Ground(1))
    lines[3] = replace(lines[3], traces=lines[8].traces[: len(lines[3].traces)])
    found = estimate_corrections(lines, INTERVAL_NS, Choices(duplicate="apply"))
    assert "L04" not in [ln.name for ln in apply_corrections(lines, INTERVAL_NS, found)]
