"""Late starts and displaced lines on ground of our own."""

from dataclasses import replace

import numpy as np
import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.place.displaced import find_displaced
from gridmap.place.late import find_along_faults
from gridmap.place.strips import even_strips


def _late(line, metres):
    """The first metres are missing and nobody noted it: what is left is spread from peg to peg."""
    drop = round(metres / 0.05)
    n = len(line.traces) - drop
    share = np.linspace(0, 1, n)
    xy = line.xy_m[0] + share[:, None] * (line.xy_m[-1] - line.xy_m[0])
    return replace(
        line, traces=line.traces[drop:], xy_m=xy, along_m=share * line.along_m[-1], usable=np.ones(n, bool)
    )


@pytest.mark.parametrize(("which", "metres"), [(4, 0.5), (7, 0.8), (3, 0.35)])
def test_late_start_is_named_and_sized(which, metres):
    """A late start comes back within 10 cm, and no other line is named."""
    lines = zigzag(Ground(1))
    lines[which] = _late(lines[which], metres)
    (group,) = even_strips(lines, INTERVAL_NS, step_m=0.05)
    found, _ = find_along_faults(group)
    assert [(f.name, f.shape) for f in found] == [(lines[which].name, "started late")]
    assert found[0].size_m == pytest.approx(metres, abs=0.1)


def test_shift_along_is_told_from_a_late_start():
    """A line whose labels are 0.4 m behind all along is "shifted along"."""
    lines = zigzag(Ground(2))
    ahead = 0.4 * (lines[5].xy_m[-1] - lines[5].xy_m[0]) / lines[5].along_m[-1]
    lines[5] = replace(lines[5], xy_m=lines[5].xy_m - ahead)
    (group,) = even_strips(lines, INTERVAL_NS, step_m=0.05)
    found, _ = find_along_faults(group)
    assert [(f.name, f.shape) for f in found] == [("L06", "shifted along")]
    assert found[0].size_m == pytest.approx(0.4, abs=0.06)


@pytest.mark.parametrize("shift", [-0.3, 0.35, -0.45, 0.25])
def test_displaced_line_is_found_within_half_a_spacing(shift):
    """A line walked more than one spacing beside its label is named, its size within half a spacing."""
    ground = Ground(3)
    lines = zigzag(ground, lines=15)
    walked = zigzag(ground, lines=1, start_x=1.0 + 0.25 * 6 + shift, seed=8)[0]
    lines[6] = replace(lines[6], traces=walked.traces)
    (group,) = even_strips(lines, INTERVAL_NS, step_m=0.05, smooth_m=3.0)
    found = find_displaced(group)
    assert [f.name for f in found] == ["L07"]
    assert found[0].across_m == pytest.approx(shift, abs=0.125)


def test_several_faults_do_not_hide_each_other():
    """Three late lines of fifteen are all named, and no other."""
    lines = zigzag(Ground(1, size=(6.0, 6.0)), lines=15)
    for which in (3, 7, 11):
        lines[which] = _late(lines[which], 0.6)
    (group,) = even_strips(lines, INTERVAL_NS, step_m=0.05)
    assert {f.name for f in find_along_faults(group)[0]} == {"L04", "L08", "L12"}


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_sound_lines_raise_no_alarm(seed):
    """Neither finder names a line of a sound survey."""
    lines = zigzag(Ground(seed), lines=13, seed=seed)
    (group,) = even_strips(lines, INTERVAL_NS, step_m=0.05)
    assert find_along_faults(group)[0] == []
    (group,) = even_strips(lines, INTERVAL_NS, step_m=0.05, smooth_m=3.0)
    assert find_displaced(group) == []


def test_quiet_ground_is_said_to_be_quiet():
    """Noise alone: no fault, and every line is listed as one that cannot be told."""
    lines = zigzag(Ground(1, strength=0.0), noise=1.0)
    (group,) = even_strips(lines, INTERVAL_NS, step_m=0.05)
    found, quiet = find_along_faults(group)
    assert found == [] and len(quiet) == len(lines)
