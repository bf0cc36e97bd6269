"""The echo of a flat body in the mean of the traces above it: the time of its top and of its base."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize

from gridmap.model import Float32, Float64
from gridmap.velocity.signal import analytic_signal

BETTER = 0.6
"""Two pulses are believed where they leave at most this share of what one pulse leaves."""
ONE_LEAVES = 0.25
"""And only where one pulse leaves more than this."""
NEAREST, APART = 0.35, 0.36
"""The search for two pulses ends at the first, in periods; what ends there is one pulse of another phase."""
BASE_SHARE = 0.3
"""A base echoes with at least this share of its top."""
STANDS_OUT = 3.0
"""And stands this many times above the usual level of the mean trace below the top."""


@dataclass(frozen=True, slots=True)
class Echo:
    """Times of an echo.

    Attributes
    ----------
    top_ns : float
        Two-way time of the pulse from the top.
    base_ns : float or None
        Of the pulse from the base; None where none shows.
    misfit : float
        What the pulses leave of the window, root mean square over root mean square.
    peak : complex
        Analytic signal at the peak of the envelope, in the data's unit; 0 where there is none.
    """

    top_ns: float
    base_ns: float | None
    misfit: float
    peak: complex = 0j


def ricker(t_ns: Float64, centre_ghz: float) -> Float64:
    """Zero-phase pulse (1 - 2a) exp(-a), a = (pi f t)^2 (Ricker 1953), of unit peak."""
    a = (np.pi * centre_ghz * t_ns) ** 2
    return np.asarray((1 - 2 * a) * np.exp(-a))


def read_echo(mean: Float32, interval_ns: float, near_ns: float, period_ns: float) -> Echo:
    """Pick the top, and the base where it shows, in the mean trace above a flat body.

    Parameters
    ----------
    mean : (sample,) float32
        Mean of the traces taken above the body's inner part; sample 0 is time zero.
    interval_ns : float
        Sample interval.
    near_ns : float
        Time near which the volume shows the top; searched half a period to both sides.
    period_ns : float
        One period of the centre frequency.

    Returns
    -------
    Echo
        One zero-phase pulse, or, where that leaves much less, two of opposite sign within a period: the faces of a
        thin layer, whose sum peaks between them. A base farther down is the next clear echo of the envelope,
        unless it comes at twice the time of the top as a repeat does.
    """
    time = np.asarray(interval_ns * np.arange(len(mean)), dtype=np.float64)
    signal = analytic_signal(mean[None])[0]
    strength = np.abs(signal).astype(np.float64)
    around = np.abs(time - near_ns) <= 0.5 * period_ns
    if not around.any() or strength[around].max() <= 0:
        return Echo(near_ns, None, 1.0)
    peak = int(np.flatnonzero(around)[strength[around].argmax()])
    window = np.abs(time - time[peak]) <= 1.25 * period_ns
    t, data = time[window], mean[window].astype(float) / strength[peak]
    one = _fit(t, data, float(time[peak]), 1.0 / period_ns, 1)
    two = min(
        (_fit(t, data, float(time[peak]) + s * period_ns, 1.0 / period_ns, 2) for s in (-0.4, -0.2)),
        key=lambda fit: fit[2],
    )
    if one[2] > ONE_LEAVES and two[2] < BETTER * one[2] and two[1] is not None:
        if two[1] - two[0] > APART * period_ns:
            return Echo(two[0], two[1], two[2], complex(signal[peak]))
        # A layer too thin to part its faces: the first is the top as nearly as can be told.
        base = _later_base(strength, time, peak, period_ns)
        return Echo(two[0], base, two[2], complex(signal[peak]))
    return Echo(one[0], _later_base(strength, time, peak, period_ns), one[2], complex(signal[peak]))


def _fit(
    t: Float64, data: Float64, begin: float, centre: float, pulses: int
) -> tuple[float, float | None, float]:
    """Time of the first pulse, of the second, and the share left; amplitudes follow by linear least squares."""

    def model(p: Float64) -> tuple[Float64, Float64]:
        columns = [ricker(t - p[0], p[1])]
        if pulses == 2:
            columns.append(ricker(t - p[0] - p[2], p[1]))
        matrix = np.stack(columns, axis=1)
        size = np.asarray(np.linalg.lstsq(matrix, data, rcond=None)[0], dtype=np.float64)
        if pulses == 2 and size[0] * size[1] > 0:  # the faces of a layer echo with opposite signs
            size[1] = 0.0
        return matrix @ size - data, size

    period = 1.0 / centre
    guess, low, high = (
        [begin, centre],
        [begin - 0.6 * period, 0.6 * centre],
        [begin + 0.6 * period, 1.5 * centre],
    )
    if pulses == 2:
        guess, low, high = [*guess, 0.6 * period], [*low, NEAREST * period], [*high, 1.1 * period]
    got = optimize.least_squares(lambda p: model(p)[0], guess, bounds=(low, high), max_nfev=40)
    rest, size = model(got.x)
    left = float(np.sqrt(np.mean(rest**2) / max(float(np.mean(data**2)), 1e-30)))
    if pulses == 2 and abs(size[1]) < BASE_SHARE * abs(size[0]):
        left = 1.0
    return float(got.x[0]), float(got.x[0] + got.x[2]) if pulses == 2 else None, left


def _later_base(strength: Float64, time: Float64, peak: int, period_ns: float) -> float | None:
    """First clear echo of the envelope at least a period below the top, unless it is a repeat."""
    top_ns = time[peak]
    below = (
        (time > top_ns + period_ns)
        & (np.abs(time - 2 * top_ns) > 0.4 * period_ns)
        & (time < top_ns + 6 * period_ns)
    )
    if not below.any():  # the record ends with the top
        return None
    crest = (
        np.flatnonzero(below[1:-1] & (strength[1:-1] >= strength[:-2]) & (strength[1:-1] > strength[2:])) + 1
    )
    usual = float(np.median(strength[time > top_ns + period_ns]))
    clear = crest[strength[crest] >= max(BASE_SHARE * strength[peak], STANDS_OUT * usual)]
    if not len(clear):
        return None
    first = clear[time[clear] < time[clear[0]] + period_ns]  # ripples on one echo
    return float(time[first[strength[first].argmax()]])
