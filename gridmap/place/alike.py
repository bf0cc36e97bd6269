"""How alike every two lines of a group are, as they lie and turned end for end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import fft

from gridmap.model import Float32, Float64
from gridmap.place.strips import Strip, StripGroup


@dataclass(frozen=True, slots=True)
class Alike:
    """Likeness of the lines of one group, each pair at its best lag within a limit.

    Attributes
    ----------
    same : (line, line) float64
        Correlation of the two as labelled; 1 on the diagonal.
    turned : (line, line) float64
        The same with one of the two turned end for end.
    noise : float
        Scatter of the correlation of lines that have nothing in common: half the distance between the 16 and
        84 per cent points of `turned` off the diagonal.
    """

    same: Float64
    turned: Float64
    noise: float


def likeness(group: StripGroup, lag_m: float = 0.3) -> Alike:
    """Compare every line of a group with every other.

    Parameters
    ----------
    group : StripGroup
        At least two lines.
    lag_m : float
        Lag along the line that is allowed, metres: stagger, start marks and oblique features shift lines.

    Returns
    -------
    Alike
        By correlation over the whole line, through the discrete Fourier transform along it.
    """
    lags = round(lag_m / group.step_m)
    plain = np.array([_unit(s.values) for s in group.strips])
    turned = np.array([_unit(turn(s)) for s in group.strips])
    length = int(fft.next_fast_len(2 * plain.shape[1], real=True))
    one = fft.rfft(plain, length, axis=1)
    same = _best(one, one, length, lags)
    other = _best(fft.rfft(turned, length, axis=1), one, length, lags)
    other = 0.5 * (other + other.T)
    off = ~np.eye(len(plain), dtype=bool)
    low, high = np.percentile(other[off], [16, 84])
    return Alike(same, other, max(0.5 * float(high - low), 0.02))


def turn(strip: Strip) -> Float32:
    """Return the values of a strip turned end for end about the middle of what was seen."""
    seen = np.flatnonzero(strip.seen)
    out = np.zeros_like(strip.values)
    if seen.size:
        first, last = int(seen[0]), int(seen[-1]) + 1
        out[first:last] = strip.values[first:last][::-1]
    return out


def trace_likeness(one: Float32, other: Float32) -> float:
    """Correlate two lines trace by trace in the order walked, wherever they lie.

    Parameters
    ----------
    one, other : (trace, sample) float32
        Mean 0 along the line. Of different lengths: compared as far as the shorter goes.

    Returns
    -------
    float
        -1 to 1; two copies of one recording come near 1 whatever gain or offset one of them has had.
    """
    count = min(len(one), len(other))
    if count < 2:
        return 0.0
    a, b = one[:count] - one[:count].mean(axis=0), other[:count] - other[:count].mean(axis=0)
    scale = float(np.sqrt((a * a).sum(dtype=float) * (b * b).sum(dtype=float)))
    return float((a * b).sum(dtype=float) / scale) if scale > 0 else 0.0


def _unit(values: Float32) -> Float32:
    size = float(np.sqrt((values * values).sum(dtype=float)))
    return values / np.float32(size) if size > 0 else values


def _best(
    one: np.ndarray[tuple[int, int, int], np.dtype[np.complex64]],
    other: np.ndarray[tuple[int, int, int], np.dtype[np.complex64]],
    length: int,
    lags: int,
) -> Float64:
    """Largest correlation within the lags for all pairs, (line, line)."""
    cross = np.matmul(np.conj(one).transpose(1, 0, 2), other.transpose(1, 2, 0))  # (frequency, line, line)
    curve = fft.irfft(cross, length, axis=0)
    near = np.concatenate([curve[length - lags :], curve[: lags + 1]]) if lags else curve[:1]
    return np.asarray(near.max(axis=0), np.float64)
