"""Reach: the time, and so the depth, to which a stated echo would still stand above the noise.

An empty slice below the reach says nothing. The stated echo is told in terms of the survey itself: so many times the
usual echo of the ground at the same time. How the usual echo fades is fitted stretch by stretch, since wet or clayey
patches swallow the signal sooner.
"""

from __future__ import annotations

import numpy as np

from gridmap.condition.gain import Decay
from gridmap.model import CleanLine, Float32, Float64

STATED_ECHO = 4.0
"""The stated echo: this many times (12 dB) the RMS of the ground's own echoes at its time."""
OVER_NOISE = 3.0
"""It must stand this many times above the noise floor to be seen."""
STRETCH_M = 1.0
LIKE_THE_SURVEY = 0.3
"""A stretch's own absorption is trusted against the survey's as far as its fit is surer than this share of it."""


def reach_ns(
    line: CleanLine,
    gain: Float32,
    interval_ns: float,
    noise: float,
    decay: Decay,
    from_ns: float,
) -> Float64:
    """Estimate how far down a stated echo would be seen, trace by trace.

    Parameters
    ----------
    line : CleanLine
        Conditioned, with gain.
    gain : (sample,) float32
        The factor each sample was multiplied with; divided out again.
    interval_ns : float
        Sample interval, nanoseconds.
    noise : float
        Noise floor of the line before gain (`gridmap.condition.noise`).
    decay : Decay
        Of the whole survey, before gain.
    from_ns : float
        Earlier samples hold the direct wave and tell nothing.

    Returns
    -------
    (trace,) float64
        Two-way time at which `STATED_ECHO` times the usual echo has sunk to `OVER_NOISE` times the noise, nanoseconds;
        at most the record's length, which then is all that can be said; NaN where nothing can be told.

    Notes
    -----
    Usual echo: log r(t) = a - s log t - b t with s of the survey, fitted to the RMS of stretches of 1 m with the
    noise's power taken off, by least squares; b is drawn towards the survey's (a normal prior).
    """
    samples = line.traces.shape[1]
    time_ns = np.asarray(interval_ns * np.arange(samples), dtype=np.float64)
    known = (time_ns >= max(from_ns, 1.0)) & (gain > 1e-6)
    if not np.isfinite(noise) or not line.usable.any() or known.sum() < 8:
        return np.full(len(line.along_m), np.nan)
    length = max(float(line.along_m[-1] - line.along_m[0]), 1e-9)
    pieces = max(1, round(length / STRETCH_M))
    piece = np.minimum((line.along_m - line.along_m[0]) / length * pieces, pieces - 1).astype(int)
    centre, reach = [], []
    for k in range(pieces):
        mine = line.traces[(piece == k) & line.usable]
        if len(mine):
            power: Float64 = (mine[:, known].astype(float) / gain[known].astype(float)) ** 2
            centre.append(line.along_m[0] + (k + 0.5) * length / pieces)
            reach.append(
                _reach_of(
                    np.asarray(power.mean(axis=0), dtype=np.float64),
                    time_ns[known],
                    noise,
                    decay,
                    float(time_ns[-1]),
                )
            )
    return np.asarray(np.interp(line.along_m, centre, reach))


def _reach_of(power: Float64, time_ns: Float64, noise: float, decay: Decay, record_ns: float) -> float:
    """Reach of one stretch from the power of its echoes at each time."""
    width = max(1, len(power) // 12)
    padded = np.pad(power, (width // 2, width - 1 - width // 2), mode="edge")
    smooth = np.convolve(padded, np.ones(width) / width, "valid")
    echo = smooth - noise**2
    clear = echo > noise**2
    if clear.sum() < 4:
        return (
            float(time_ns[0])
            if not clear.any() or smooth[0] < (OVER_NOISE * noise / STATED_ECHO) ** 2
            else float(time_ns[clear].max())
        )
    t = time_ns[clear]
    seen = 0.5 * np.log(echo[clear]) + decay.spreading * np.log(np.maximum(t, 1.0))
    mean_t = t.mean()
    scatter = 0.5  # log amplitude of neighbouring windows; independent about every `width` samples
    weight = ((t - mean_t) ** 2).sum() / width / scatter**2
    prior_sd = LIKE_THE_SURVEY * decay.absorption_per_ns + 0.01
    own = -((t - mean_t) * (seen - seen.mean())).sum() / max(((t - mean_t) ** 2).sum(), 1e-30)
    b = max(0.0, (own * weight + decay.absorption_per_ns / prior_sd**2) / (weight + 1 / prior_sd**2))
    a = seen.mean() + b * mean_t
    fine = np.arange(float(time_ns[0]), record_ns, 0.1)
    usual = a - decay.spreading * np.log(np.maximum(fine, 1.0)) - b * fine
    above = usual + np.log(STATED_ECHO) > np.log(OVER_NOISE * max(noise, 1e-30))
    below = np.flatnonzero(~above)
    return record_ns if not below.size else float(fine[below[0]])
