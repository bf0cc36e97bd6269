"""Latency of fixes from opposed and crossing passes over ground of our own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.model import CleanLine, Line, PlacedLine
from gridmap.place.latency import estimate_latency, later_on_path, walking_speeds, with_latency

SPEED = 0.8


def late_placed(lines: list[CleanLine], latency_s: float, speed: float = SPEED) -> list[PlacedLine]:
    """Put labels u tau behind in the walking direction (trade.md 2.3), with the times of an even walk."""
    placed = []
    for ln in lines:
        ahead = (ln.xy_m[-1] - ln.xy_m[0]) / np.hypot(*(ln.xy_m[-1] - ln.xy_m[0]))
        line = Line(ln.name, ln.traces, INTERVAL_NS, time_s=1e9 + ln.along_m / speed)
        placed.append(PlacedLine(line, ln.xy_m - latency_s * speed * ahead, ln.along_m))
    return placed


def clean(lines: list[CleanLine], placed: list[PlacedLine]) -> list[CleanLine]:
    return [replace(ln, xy_m=one.xy_m) for ln, one in zip(lines, placed, strict=True)]


@pytest.mark.parametrize("latency_s", [0.0, 0.25, -0.1])
def test_opposed_passes_show_the_latency(latency_s):
    """Zig-zag lines at 0.8 m/s disagree by 2 u tau; tau comes back within 0.02 s, and the lines to their places."""
    lines = zigzag(Ground(7), lines=11)
    placed = late_placed(lines, latency_s)
    speeds = walking_speeds(placed, [ln.name for ln in lines])
    assert speeds["L01"] == pytest.approx(SPEED, rel=1e-6)
    found = estimate_latency(clean(lines, placed), INTERVAL_NS, speeds)
    assert found.latency_s == pytest.approx(latency_s, abs=0.02)
    assert abs(found.latency_s - latency_s) < 4 * found.sd_s
    moved, as_read = with_latency(clean(lines, placed), placed, speeds, found.latency_s)
    for ln, new, raw in zip(lines, moved, as_read, strict=True):
        assert new.xy_m == pytest.approx(ln.xy_m, abs=0.02)
        assert raw.xy_m == pytest.approx(new.xy_m)


def test_lines_all_walked_one_way_show_it_where_they_cross():
    """Two sets of one-way lines at different speeds, no opposed neighbours: crossings alone give tau within 0.03 s."""
    ground = Ground(8, smooth_m=0.15)
    along_y = zigzag(ground, lines=12, one_way=True, start_x=0.5)
    along_x = zigzag(ground, lines=12, one_way=True, start_x=0.5, along_x=True, prefix="X")
    placed = late_placed(along_y, 0.2, 0.8) + late_placed(along_x, 0.2, 1.1)
    lines = along_y + along_x
    found = estimate_latency(
        clean(lines, placed), INTERVAL_NS, walking_speeds(placed, [ln.name for ln in lines])
    )
    assert (found.pairs, found.crossings > 50) == (0, True)
    assert found.latency_s == pytest.approx(0.2, abs=0.03)


def test_lines_walked_one_way_alone_cannot_tell():
    """Without opposed or crossing passes a latency only shifts the map; it is said, not guessed."""
    lines = zigzag(Ground(9), lines=8, one_way=True)
    placed = late_placed(lines, 0.2)
    found = estimate_latency(
        clean(lines, placed), INTERVAL_NS, walking_speeds(placed, [ln.name for ln in lines])
    )
    assert not found.known
    assert "State latency_s" in found.words


def test_only_named_lines_move_and_uneven_walking_moves_by_its_own_speed():
    """A line that slows to a third moves by a third there; a line by pegs, not named, stays."""
    time_s = np.concatenate([np.arange(0, 5, 0.05), 5 + 0.15 * np.arange(100)])
    along = 0.05 * np.arange(200)
    line = Line("L", np.zeros((200, 4), np.float32), 0.2, time_s=time_s)
    one = PlacedLine(line, np.column_stack([along, np.zeros(200)]), along)
    moved = later_on_path(one, 0.15).xy_m[:, 0] - along
    assert moved[:90] == pytest.approx(np.full(90, 0.15), abs=1e-9)
    assert moved[105:] == pytest.approx(np.full(95, 0.05), abs=1e-9)
    _, same = with_latency([], [one], [], 0.15)
    assert same[0] is one
    assert walking_speeds([one], []) == {}
