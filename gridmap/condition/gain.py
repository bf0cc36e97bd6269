"""Gain from a smooth decay fitted to the data: spreading and absorption, the same for every trace."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridmap.model import Float32, Float64


@dataclass(frozen=True, slots=True)
class Decay:
    """How echoes weaken with time: log amplitude = level - spreading ln(t) - absorption t.

    Attributes
    ----------
    level : float
        Natural logarithm of the amplitude at 1 ns with no absorption.
    spreading : float
        Exponent of time, at least 0.
    absorption_per_ns : float
        Nepers per nanosecond, at least 0.
    noise : float
        Amplitude of the noise floor, same unit as the data.
    """

    level: float
    spreading: float
    absorption_per_ns: float
    noise: float

    def amplitude(self, time_ns: Float64) -> Float64:
        """Return the expected echo amplitude at each time, without noise."""
        t = np.maximum(time_ns, 1.0)
        return np.asarray(np.exp(self.level - self.spreading * np.log(t) - self.absorption_per_ns * t))


def mean_square(traces: Float32) -> Float64:
    """Mean over traces of the squared amplitude, (sample,) float64; robust: the top tenth of traces is left out."""
    step = max(1, len(traces) // 120)
    part = np.sort(np.square(traces[::step], dtype=np.float32), axis=0)
    return np.asarray(part[: max(1, int(0.9 * len(part)))].mean(axis=0), dtype=float)


def fit_decay(rms: Float64, time_ns: Float64, from_ns: float) -> Decay:
    """Fit spreading and absorption to the survey's RMS amplitude against time.

    Parameters
    ----------
    rms : (sample,) float64
        RMS amplitude over all traces of the survey, background removed.
    time_ns : (sample,) float64
        Two-way time from time zero, nanoseconds.
    from_ns : float
        Earlier samples are left out: the direct wave's remains are there.

    Returns
    -------
    Decay
        Robust least squares on the logarithm of sqrt(echo^2 + noise^2), the four numbers together; with too few
        samples to fit, one that asks for no gain. Spreading and exponential compensation is common practice
        (Turner 1994; Annan 1999 [memory]).
    """
    from scipy.optimize import least_squares

    use = (time_ns >= from_ns) & (rms > 0)
    if use.sum() < 8:
        return Decay(0.0, 0.0, 0.0, 0.0)
    t, seen = time_ns[use], np.log(rms[use])
    log_t = np.log(np.maximum(t, 1.0))

    def misfit(x: Float64) -> Float64:
        echo = x[0] - x[1] * log_t - x[2] * t
        return np.asarray(0.5 * np.logaddexp(2 * echo, 2 * x[3]) - seen)

    slope = max(0.0, float(seen[0] - seen[-1]) / float(t[-1] - t[0]))
    start = [seen[0] + slope * t[0], 0.1, slope + 1e-3, seen.min() - 1.0]
    fit = least_squares(
        misfit,
        start,
        loss="soft_l1",
        f_scale=0.1,
        bounds=([-np.inf, 0, 0, seen.min() - 12], [np.inf, 3, 2, seen.max()]),
    )
    level, spreading, absorption, noise = (float(v) for v in fit.x)
    return Decay(level, spreading, absorption, float(np.exp(noise)))


def decay_gain(decay: Decay, time_ns: Float64, limit_db: float = 60.0) -> Float32:
    """Gain that undoes the decay without raising noise above the level of echoes.

    Parameters
    ----------
    decay : Decay
        From `fit_decay`.
    time_ns : (sample,) float64
        Two-way time, nanoseconds.
    limit_db : float
        No sample is raised by more than this over the first one, decibels.

    Returns
    -------
    (sample,) float32
        Factor a sample, Wiener-damped where the expected echo sinks below the noise floor; 1 at its smallest.
    """
    echo = decay.amplitude(time_ns)
    gain = echo / (echo**2 + decay.noise**2 + 1e-300)
    gain = gain / gain[np.argmax(echo)]
    return np.asarray(np.clip(gain, 0.0, 10 ** (limit_db / 20)), dtype=np.float32)
