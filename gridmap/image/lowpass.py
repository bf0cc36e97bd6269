"""A ladder of low-passed copies of the data, for sums that must not alias.

A tap far to the side of a coarse line takes its sample from a rung that holds no frequency which the spacing would
fold. The rungs are reached one after the other, each smoothed from the one above, so that one copy is held at a time.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from gridmap.model import Float32, Float64
from gridmap.threads import in_parts

STEP = math.sqrt(0.5)
"""Each rung's limit over the one above."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Rungs from the whole signal downward.

    Attributes
    ----------
    limit_mhz : (rung,) float64
        What lies above it is damped to 0.4 or less; falling. The first is the whole signal.
    half_width : (rung,) int64
        The running mean of 2 n + 1 samples that, passed twice, leads from the rung above to this one.
    passed : (rung,) float64
        Share of the signal's amplitude that is left.
    """

    limit_mhz: Float64
    half_width: NDArray[np.int64]
    passed: Float64

    def rung_below(self, limit_mhz: Float64) -> NDArray[np.int8]:
        """Return the highest rung whose limit is not above `limit_mhz`; -1 where nothing would be left."""
        rung = np.searchsorted(-self.limit_mhz, -np.asarray(limit_mhz), side="left")
        return np.where(rung < len(self.limit_mhz), rung, -1).astype(np.int8)


def signal_spectrum(traces: Sequence[Float32], interval_ns: float) -> tuple[Float64, Float64]:
    """Mean amplitude spectrum of some hundred traces of each line, their ends faded so that these add nothing.

    Returns
    -------
    frequency_mhz, amplitude : (frequency,) float64
        Amplitude sums to 1; zero where no trace holds a signal.
    """
    n = traces[0].shape[1]
    total: Float64 = np.zeros(n // 2 + 1)
    fade = np.minimum(1.0, (0.5 + np.minimum(np.arange(n), np.arange(n)[::-1])) / max(1, n // 16))
    fade = 0.5 - 0.5 * np.cos(np.pi * fade)
    for part in traces:
        some = part[:: max(1, len(part) // 100)]
        total += np.abs(np.fft.rfft(some * fade, axis=1)).sum(axis=0)
    frequency: Float64 = np.asarray(np.fft.rfftfreq(n, interval_ns) * 1e3, dtype=np.float64)
    return frequency, total / max(total.sum(), 1e-30)


def energy_band(frequency_mhz: Float64, amplitude: Float64, left_out: float) -> tuple[float, float]:
    """Frequencies below and above which a share `left_out` of the energy lies."""
    share = np.cumsum(amplitude**2)
    last = len(share) - 1
    low, high = (min(int(np.searchsorted(share, s * share[-1])), last) for s in (left_out, 1 - left_out))
    return float(frequency_mhz[low]), float(frequency_mhz[high])


def build_ladder(frequency_mhz: Float64, amplitude: Float64, interval_ns: float) -> Ladder:
    """Lay rungs a factor of sqrt 2 apart through the band that holds all but a hundredth of the energy.

    Parameters
    ----------
    frequency_mhz, amplitude : (frequency,) float64
        From `signal_spectrum`.
    interval_ns : float
        Sample interval, nanoseconds.

    Returns
    -------
    Ladder
        A running mean passed twice is a triangle filter (Lumley, Claerbout and Bevc 1994); at a rung's limit it
        passes 0.4, as theirs does.
    """
    low, high = energy_band(frequency_mhz, amplitude, 0.005)
    limits, widths, passed = [high], [0], [1.0]
    response = np.ones(len(frequency_mhz))
    variance, limit = 0.0, high
    while (limit := limit * STEP) > max(low, 1e-6):
        # A Gaussian of this variance passes 0.4 at the limit; repeated running means are close to one.
        wanted = -math.log(0.4) / 2 / (math.pi * limit * 1e-3 * interval_ns) ** 2
        n = round((math.sqrt(1 + 6 * max(wanted - variance, 0.0)) - 1) / 2)
        if n == 0:
            limits[-1] = limit
            continue
        variance += ((2 * n + 1) ** 2 - 1) / 6
        response = response * _running_mean_response(frequency_mhz * 1e-3 * interval_ns, n) ** 2
        limits.append(limit)
        widths.append(n)
        passed.append(float((amplitude * response).sum() / max(amplitude.sum(), 1e-30)))
    return Ladder(np.array(limits), np.array(widths, np.int64), np.array(passed))


def _running_mean_response(cycles: Float64, n: int) -> Float64:
    """Frequency response of the mean of 2 n + 1 samples at `cycles` per sample (Bracewell 1965)."""
    width = 2 * n + 1
    return np.asarray(np.sinc(width * cycles) / np.sinc(cycles))


def smooth_in_place(data: Float32, half_width: int) -> None:
    """Pass the running mean of 2 n + 1 samples twice along the first axis of (sample, row, column) data."""
    if half_width == 0:
        return
    in_parts(lambda a, b: _smooth_rows(data, half_width, a, b), data.shape[1])


@numba.njit(cache=True, nogil=True)
def _smooth_rows(data, half_width, first, last):  # type: ignore[no-untyped-def]
    samples, _, columns = data.shape
    scale = np.float32(1.0 / (2 * half_width + 1))
    for row in range(first, last):
        held = np.empty((samples, columns), np.float32)
        run = np.empty(columns, np.float32)
        for _ in range(2):
            run[:] = 0.0
            for k in range(samples):
                for c in range(columns):
                    held[k, c] = data[k, row, c]
            for k in range(min(half_width, samples)):
                for c in range(columns):
                    run[c] += held[k, c]
            for k in range(samples):
                target = data[k, row]
                if k + half_width < samples:
                    for c in range(columns):
                        run[c] += held[k + half_width, c]
                if k - half_width - 1 >= 0:
                    for c in range(columns):
                        run[c] -= held[k - half_width - 1, c]
                for c in range(columns):
                    target[c] = scale * run[c]
