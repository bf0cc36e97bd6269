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
        """Expected echo amplitude at each time, without noise."""
        t = np.maximum(time_ns, 1.0)
        return np.asarray(np.exp(self.level - self.spreading * np.log(t) - self.absorption_per_ns * t))


def mean_square(traces: Float32) -> Float64:
    """Mean over traces of the squared amplitude, (sample,) float64; robust: the top tenth of traces is left out."""
    step = max(1, len(traces) // 400)
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
        Non-negative least squares on the logarithm, with the noise floor (the quietest twentieth of the
        record) taken off in power first (Turner 1994, amplitude decay fit; spreading and exponential
        compensation is common practice, Annan 1999 [memory]).
    """
    from scipy.optimize import nnls

    use = (time_ns >= from_ns) & (rms > 0)
    if use.sum() < 8:
        return Decay(0.0, 0.0, 0.0, 0.0)
    noise = float(np.quantile(rms[use], 0.05)) * 0.8
    signal = np.sqrt(np.maximum(rms[use] ** 2 - noise**2, (0.3 * noise) ** 2 + 1e-300))
    t = time_ns[use]
    # The level may have either sign: it enters twice.
    matrix = np.stack([np.ones_like(t), -np.ones_like(t), -np.log(np.maximum(t, 1.0)), -t], axis=1)
    weight = np.clip(signal / (noise + 1e-300), 0.05, 1.0)
    x, _ = nnls(matrix * weight[:, None], np.log(signal) * weight)
    return Decay(float(x[0] - x[1]), float(x[2]), float(x[3]), noise)


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
