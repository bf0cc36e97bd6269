"""Reach, on echoes whose decay and noise are stated: 4 exp(a - b t) = 3 n has its answer on paper."""

import numpy as np
import pytest

from gridmap.condition.gain import Decay
from gridmap.condition.noise import noise_floor
from gridmap.condition.reach import OVER_NOISE, STATED_ECHO, _reach_of, reach_ns
from gridmap.model import CleanLine

INTERVAL_NS, SAMPLES = 0.2, 400
TIME = INTERVAL_NS * np.arange(SAMPLES)
LEVEL, NOISE = -1.0, 1e-3
GAIN = np.exp(0.05 * TIME).astype(np.float32)


def line_of(absorption, noise=NOISE, traces=400):
    """Independent normal echoes that fade as stated (absorption a trace, nepers a nanosecond), and noise."""
    rng = np.random.default_rng(1)
    fade = np.exp(LEVEL - np.broadcast_to(absorption, (traces,))[:, None] * TIME)
    values = fade * rng.standard_normal((traces, SAMPLES)) + noise * rng.standard_normal((traces, SAMPLES))
    along = 0.02 * np.arange(traces)
    xy = np.stack([along, np.zeros(traces)], axis=1)
    return CleanLine("L", xy, along, (values * GAIN).astype(np.float32), np.ones(traces, bool), 0.0)


def on_paper(absorption, noise=NOISE):
    return (LEVEL + np.log(STATED_ECHO / OVER_NOISE) - np.log(noise)) / absorption


def test_reach_is_where_the_stated_echo_meets_the_noise():
    """Within 5 % of the time worked out from decay and noise."""
    found = reach_ns(line_of(0.1), GAIN, INTERVAL_NS, NOISE, Decay(LEVEL, 0.0, 0.1, NOISE), 4.0)
    assert np.median(found) == pytest.approx(on_paper(0.1), rel=0.05)


def test_a_lossy_patch_has_less_reach():
    """Where the absorption is half as large again the reach shrinks accordingly, within 10 %, on that part alone."""
    absorption = np.where(np.arange(400) < 200, 0.1, 0.15)
    found = reach_ns(line_of(absorption), GAIN, INTERVAL_NS, NOISE, Decay(LEVEL, 0.0, 0.1, NOISE), 4.0)
    assert np.median(found[:150]) == pytest.approx(on_paper(0.1), rel=0.10)
    assert np.median(found[250:]) == pytest.approx(on_paper(0.15), rel=0.10)


def test_reach_ends_with_the_record_and_grows_as_noise_falls():
    """Nothing is said beyond the record; ten times the noise costs ln(10) / b of time."""
    decay = Decay(LEVEL, 0.0, 0.1, NOISE)
    clear = reach_ns(line_of(0.1, 1e-6), GAIN, INTERVAL_NS, 1e-6, decay, 4.0)
    assert clear.max() == pytest.approx(TIME[-1])
    noisy = reach_ns(line_of(0.1, 1e-2), GAIN, INTERVAL_NS, 1e-2, decay, 4.0)
    quiet = reach_ns(line_of(0.1), GAIN, INTERVAL_NS, NOISE, decay, 4.0)
    assert np.median(quiet - noisy) == pytest.approx(np.log(10) / 0.1, rel=0.1)


def test_no_noise_floor_no_reach():
    """Where the noise is not known, or no trace is usable, nothing is claimed."""
    line = line_of(0.1, traces=3)
    assert np.isnan(noise_floor(line.traces, INTERVAL_NS).level)
    assert np.isnan(reach_ns(line, GAIN, INTERVAL_NS, np.nan, Decay(LEVEL, 0.0, 0.1, NOISE), 4.0)).all()


def test_stretch_drowned_in_noise_has_no_reach():
    """Where no sample stands above the noise there is nothing to fit, and the answer is the first time, not a crash."""
    time_ns = np.linspace(5.0, 40.0, 60)
    noise = 1.0
    assert _reach_of(np.full(60, 1.5), time_ns, noise, Decay(0.0, 1.0, 0.05, noise), 40.0) == time_ns[0]
