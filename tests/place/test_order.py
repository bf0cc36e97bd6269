"""Reversed, swapped and duplicated lines on ground of our own."""

from dataclasses import replace

import numpy as np
import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.model import CleanLine
from gridmap.place.alike import copies_likeness
from gridmap.place.order import find_order_faults


def _exchange(lines, i, j):
    """The files of two lines of equal length exchanged: traces change place, labels stay."""
    n = min(len(lines[i].traces), len(lines[j].traces))
    out = list(lines)
    for a, b in ((i, j), (j, i)):
        out[a] = replace(
            lines[a],
            traces=lines[b].traces[:n],
            xy_m=lines[a].xy_m[:n],
            along_m=lines[a].along_m[:n],
            usable=lines[a].usable[:n],
        )
    return out


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_sound_lines_raise_no_alarm(seed):
    """Nothing is found where nothing is wrong."""
    assert find_order_faults(zigzag(Ground(seed), seed=seed), INTERVAL_NS) == ([], "")


@pytest.mark.parametrize("which", [0, 4, 10])
def test_reversed_line_is_named(which):
    """One line stored from end to start is found, also at the edge of the survey."""
    lines = zigzag(Ground(1))
    lines[which] = replace(lines[which], traces=lines[which].traces[::-1])
    found, _ = find_order_faults(lines, INTERVAL_NS)
    assert [(f.kind, f.lines) for f in found] == [("reversed", (lines[which].name,))]


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_line_is_named_where_one_oblique_pipe_is_all_that_neighbours_share(seed):
    """Noise as strong as the ground drowns likeness over whole lines; windows that see the pipe still tell."""
    pipe = (((1.0, 1.0), 12.0, 0.6, 4.0),)
    sound = zigzag(Ground(seed, strength=0.3, pipes=pipe), noise=1.0, spacing=0.4, lines=12, seed=seed)
    assert find_order_faults(sound, INTERVAL_NS)[0] == []
    lines = list(sound)
    lines[5] = replace(lines[5], traces=lines[5].traces[::-1])
    found, _ = find_order_faults(lines, INTERVAL_NS)
    assert [(f.kind, f.lines) for f in found] == [("reversed", ("L06",))]


@pytest.mark.parametrize("pair", [(2, 8), (3, 8), (5, 6)])
def test_swapped_lines_are_named(pair):
    """Two files exchanged are found, whether walked the same way, the opposite way, or side by side."""
    lines = _exchange(zigzag(Ground(1)), *pair)
    found, _ = find_order_faults(lines, INTERVAL_NS)
    named = {name for f in found for name in f.lines}
    assert named == {lines[i].name for i in pair}
    if pair != (5, 6):
        assert [f.kind for f in found] == ["swapped"]


def test_duplicate_is_named_despite_noise_gain_and_offset():
    """A copy with other gain, another constant and a tenth of noise is still a copy; the misfit is the copy."""
    lines = zigzag(Ground(1))
    rng = np.random.default_rng(3)
    copy = (
        1.7 * lines[8].traces + 0.4 + 0.1 * lines[8].traces.std() * rng.standard_normal(lines[8].traces.shape)
    )
    lines[3] = replace(lines[3], traces=copy.astype(np.float32))
    found, _ = find_order_faults(lines, INTERVAL_NS)
    assert ("duplicate", ("L04", "L09")) in [(f.kind, f.lines) for f in found]
    assert {f.kind for f in found} == {"duplicate"}


def test_channels_of_an_array_are_no_copies():
    """Of forty lines 0.08 m apart that agree to 0.6 to 0.95 with the next none is a copy; a recording twice is."""
    rng = np.random.default_rng(5)
    traces = [rng.normal(size=(200, 80))]
    for share in np.append(rng.uniform(0.6, 0.93, 38), 0.955):
        traces.append(share * traces[-1] + np.sqrt(1 - share**2) * rng.normal(size=(200, 80)))
    place = np.stack([np.zeros(200), np.linspace(0, 10, 200)], axis=1)

    def named(data):
        lines = [
            CleanLine(f"L{i}", place + np.array([0.08 * i, 0.0]), place[:, 1], t, np.ones(200, bool), 0.0)
            for i, t in enumerate(np.asarray(data, np.float32))
        ]
        return {f.lines for f in find_order_faults(lines, 0.2)[0] if f.kind == "duplicate"}

    assert named(traces) == set()
    assert {frozenset(pair) for pair in named([*traces[:39], traces[20]])} == {frozenset({"L39", "L20"})}


def test_nearly_alike_lines_are_no_copies():
    """Where many pairs agree to 0.89, one pair that agrees to 0.91 is no copy; the same recording twice is."""
    rng = np.random.default_rng(8)
    shared = rng.normal(size=(120, 80))
    unlike = [0.35 * rng.normal(size=shared.shape) for _ in range(6)]
    traces = [(shared + u).astype(np.float32) for u in unlike]
    traces[1] = (shared + 0.35 * unlike[0] + 0.9 * unlike[1]).astype(np.float32)
    like = copies_likeness(traces)
    assert 0.9 < like[1, 0] < 0.95 and 0.85 < np.median(like[np.tri(6, k=-1, dtype=bool)]) < 0.9
    place = np.stack([np.zeros(120), np.linspace(0, 6, 120)], axis=1)

    def named(data):
        lines = [
            CleanLine(f"L{i}", place + np.array([0.25 * i, 0.0]), place[:, 1], t, np.ones(120, bool), 0.0)
            for i, t in enumerate(data)
        ]
        return {f.lines for f in find_order_faults(lines, 0.2)[0] if f.kind == "duplicate"}

    assert named(traces) == set()
    assert {frozenset(pair) for pair in named([*traces[:5], traces[2]])} == {frozenset({"L5", "L2"})}


def test_three_faults_at_once():
    """A reversed line, a swap and a copy in one survey are told apart."""
    lines = _exchange(zigzag(Ground(4), lines=15), 2, 10)
    lines[6] = replace(lines[6], traces=lines[6].traces[::-1])
    lines[13] = replace(lines[13], traces=lines[4].traces)
    found, _ = find_order_faults(lines, INTERVAL_NS)
    assert {(f.kind, frozenset(f.lines)) for f in found} == {
        ("reversed", frozenset({"L07"})),
        ("swapped", frozenset({"L03", "L11"})),
        ("duplicate", frozenset({"L14", "L05"})),
    }


def test_unlike_lines_cannot_be_told():
    """Lines with nothing in common: no finding, and the note says so."""
    found, note = find_order_faults(zigzag(Ground(1, strength=0.0), noise=1.0), INTERVAL_NS)
    assert found == [] and "cannot be told" in note


def test_even_ground_is_not_taken_for_copies():
    """A pipe straight across ten lines in ground with nothing else: all lines are alike, none is called a copy."""
    rng = np.random.default_rng(4)
    time = 0.2 * np.arange(150)
    y = np.linspace(0, 5, 101)
    echo = 2 * np.hypot(y - 2.2, 0.6) / 0.1
    a = (np.pi * 0.4 * (time - echo[:, None])) ** 2
    lines = []
    for i in range(10):
        traces = (1 - 2 * a) * np.exp(-a) + 0.01 * rng.normal(size=a.shape)
        xy = np.stack([np.full_like(y, 0.25 * i), y], axis=1)
        lines.append(CleanLine(f"L{i}", xy, y, traces.astype(np.float32), np.ones(len(y), bool), 0.0))
    findings, note = find_order_faults(lines, 0.2)
    assert findings == []
    assert "as alike as copies" in note
