"""Long tones go; flat reflectors and pipes along a line stay."""

import numpy as np
import pytest

from gridmap.condition.ringing import line_tones

TIME = 0.2 * np.arange(220)


def pulse(at_ns):
    a = (np.pi * 0.3 * (TIME - at_ns)) ** 2
    return (1 - 2 * a) * np.exp(-a)


def survey(lines, ring=0.02, pipe=0.0, layer=0.0, noise=0.0005, seed=1):
    """Flat parts: two decaying tones of random phase, a layer at a depth of its own under each line, a pipe on one."""
    rng = np.random.default_rng(seed)
    phase = rng.uniform(0, 6.3, (lines, 2))
    tones = np.array(
        [
            ring * np.exp(-TIME / 25) * np.sin(2 * np.pi * 0.118 * TIME + p)
            + 0.7 * ring * np.exp(-TIME / 12) * np.sin(2 * np.pi * 0.236 * TIME + q)
            for p, q in phase
        ]
    )
    rest = noise * rng.normal(size=tones.shape)
    rest += np.array([layer * pulse(25 + d) for d in rng.normal(scale=0.5, size=lines)])
    rest[lines // 2] += pipe * pulse(16.0)
    return tones.astype(np.float32), rest.astype(np.float32)


@pytest.mark.parametrize("lines", [2, 10])
def test_decaying_tones_are_found_and_cut_by_15_db(lines):
    """Two tones, known frequencies and decays (matrix pencil); what is left of them is under a fifth."""
    tones, rest = survey(lines)
    rates, fitted = line_tones(tones + rest, np.zeros(220, np.float32), 0.2, 5.0, (80.0, 600.0))
    mhz = rates.imag / (2 * np.pi) * 1e3
    assert np.abs(mhz[:, None] - [118, 236]).min(axis=0) == pytest.approx([0, 0], abs=3)
    left = (tones - fitted)[:, 70:]
    assert np.sqrt((left**2).mean()) < 10 ** (-15 / 20) * np.sqrt((tones[:, 70:] ** 2).mean())


@pytest.mark.parametrize("lines", [1, 2, 10])
@pytest.mark.parametrize("pipe", [0.05, 0.2])
def test_a_pipe_along_a_line_keeps_its_amplitude_within_1_db(lines, pipe):
    """A pulse is no tone: unlike plain background removal this spares it even with one line."""
    tones, rest = survey(lines, pipe=pipe)
    _, fitted = line_tones(tones + rest, np.zeros(220, np.float32), 0.2, 5.0, (80.0, 600.0))
    left = (tones + rest - fitted)[lines // 2]
    assert np.abs(left[76:85]).max() == pytest.approx(pipe, rel=0.12)


def test_a_flat_layer_keeps_its_amplitude():
    """A layer below all lines, at a slightly different depth on each, loses less than 1 dB."""
    tones, rest = survey(8, layer=0.1)
    _, fitted = line_tones(tones + rest, np.zeros(220, np.float32), 0.2, 5.0, (80.0, 600.0))
    left = np.abs((tones + rest - fitted)[:, 110:140]).max(axis=1)
    assert left == pytest.approx(np.full(8, 0.1), rel=0.12)


def test_noise_alone_is_hardly_touched():
    """Where there are no tones, nothing is made up: less than a tenth of the noise power goes."""
    _, rest = survey(6, ring=0.0, noise=0.01)
    _, fitted = line_tones(rest, np.zeros(220, np.float32), 0.2, 5.0, (80.0, 600.0))
    assert (fitted**2).mean() < 0.1 * (rest**2).mean()
