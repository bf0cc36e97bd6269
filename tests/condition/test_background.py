"""Background removal: ringing goes, short echoes stay, and so does a pipe along a line."""

import numpy as np
import pytest

from gridmap.condition.background import common_background, flat_part, remove_background

RNG = np.random.default_rng(11)
TIME = 0.2 * np.arange(250)
ALONG = 0.05 * np.arange(160)


def pulse(at_ns, frequency_mhz=280.0):
    a = (np.pi * frequency_mhz * 1e-3 * (TIME - at_ns)) ** 2
    return (1 - 2 * a) * np.exp(-a)


def survey(lines=20, pipe_on=None, pipe=0.2):
    """Direct wave on all lines, ringing of its own on each, noise; a flat pipe on one line if asked."""
    made = []
    for i in range(lines):
        ring = 0.02 * np.exp(-TIME / 30) * np.sin(2 * np.pi * 0.118 * TIME + RNG.uniform(0, 6.3))
        flat = 3 * pulse(1.0) + ring + (pipe * pulse(20.0) if i == pipe_on else 0)
        made.append((flat + 0.003 * RNG.normal(size=(len(ALONG), len(TIME)))).astype(np.float32))
    return made


def cleaned(made, index, window_m=5.0):
    background = common_background(np.array([flat_part(t) for t in made]), 17)
    return remove_background(made[index], ALONG, window_m, background)


def test_direct_wave_and_ringing_go():
    """What is flat and alike on all lines is cut by 40 dB and more, ringing of one line by 12 dB."""
    made = survey()
    left = cleaned(made, 3).mean(axis=0)
    assert np.abs(left[:25]).max() < 3 / 100
    before = (made[3].mean(axis=0) - common_background(np.array([flat_part(t) for t in made]), 17).common)[
        60:
    ]
    assert np.sqrt(np.mean(left[60:] ** 2)) < 0.25 * np.sqrt(np.mean(before**2))


@pytest.mark.parametrize("pipe", [0.05, 0.1, 0.2, 0.5])
def test_pipe_along_a_line_keeps_its_amplitude_within_3_db(pipe):
    """A reflector flat along the whole of one line stands out from what lines usually differ by, and is spared."""
    left = cleaned(survey(pipe_on=7, pipe=pipe), 7).mean(axis=0)
    assert np.abs(left[95:106]).max() > pipe * 10 ** (-3 / 20)


def test_pipe_along_a_line_is_lost_with_too_few_lines_to_tell():
    """Known limit: with three lines nothing can be told apart, and the flat echo goes."""
    made = survey(lines=3, pipe_on=1)
    assert np.abs(cleaned(made, 1).mean(axis=0)[95:106]).max() < 0.02


def test_short_echo_stays_with_two_lines():
    """An echo much shorter than the window keeps 90 % of its peak."""
    made = survey(lines=2)
    made[0][70:80] += pulse(15.0).astype(np.float32)
    assert cleaned(made, 0)[75, 75] > 0.9


def test_one_trace_line_does_not_fail():
    """The moving window needs no second piece."""
    one = survey(lines=1)[0][:1]
    background = common_background(flat_part(one)[None], 17)
    assert remove_background(one, ALONG[:1], 5.0, background).shape == one.shape
