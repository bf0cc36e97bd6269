"""The decay fit and the gain that undoes it."""

import numpy as np
import pytest

from gridmap.condition.gain import decay_gain, fit_decay, mean_square

TIME = 0.2 * np.arange(1, 300)


def test_known_spreading_and_absorption_are_found():
    """Amplitude t^-1 exp(-0.05 t), as spreading and loss give (GPG, Basic Principles), comes back within 10 %."""
    rms = 0.7 * TIME**-1.0 * np.exp(-0.05 * TIME)
    fit = fit_decay(np.hypot(rms, 1e-6), TIME, 5.0)
    assert fit.spreading == pytest.approx(1.0, rel=0.1)
    assert fit.absorption_per_ns == pytest.approx(0.05, rel=0.1)


def test_gain_flattens_a_clean_decay():
    """Data times gain is level to 10 % where the decay model holds."""
    rms = TIME**-1.0 * np.exp(-0.03 * TIME)
    fit = fit_decay(rms, TIME, 3.0)
    level = (rms * decay_gain(fit, TIME))[20:200]
    assert level.max() / level.min() < 1.1


def test_noise_is_not_raised_above_the_echoes():
    """Where the echo sinks below the floor the gain stops rising: noise after gain stays under the level of echoes."""
    rms = np.hypot(np.exp(-0.3 * TIME), 1e-4)
    fit = fit_decay(rms, TIME, 3.0)
    after = rms * decay_gain(fit, TIME)
    assert after[-1] < after[:50].max()


def test_one_loud_trace_does_not_move_the_level():
    """The loudest tenth of traces is left out of the mean square."""
    traces = np.ones((100, 8), np.float32)
    traces[3] = 1e6
    assert mean_square(traces) == pytest.approx(np.ones(8))


def test_too_short_a_record_gives_no_gain():
    """Fewer than eight samples to fit: amplitude 1 everywhere."""
    fit = fit_decay(np.ones(5), np.arange(5.0), 0.0)
    assert decay_gain(fit, np.arange(5.0)) == pytest.approx(np.ones(5))
