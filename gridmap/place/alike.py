"""How alike every two lines of a group are, as they lie and turned end for end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.model import Float32, Float64
from gridmap.place.strips import Strip, StripGroup

_PARTS = 6
_WINDOW_M = 2.0
_QUIET = 0.3
_MOST = 0.97


@dataclass(frozen=True, slots=True)
class Alike:
    """Likeness of the lines of one group, each pair at its best lag within a limit in every window.

    Attributes
    ----------
    same : (line, line) float64
        Likeness as labelled: mean of -log(1 - r^2) over windows along the line and parts of the record.
    turned : (line, line) float64
        The same with one of the two turned end for end.
    """

    same: Float64
    turned: Float64


def likeness_as_labelled(group: StripGroup, lag_m: float) -> Float64:
    """Give `Alike.same` alone, (line, line)."""
    plain = np.array([_unit(s.values) for s in group.strips])
    return _best(plain, plain, round(lag_m / group.step_m))


def likeness(group: StripGroup, lag_m: float = 0.15) -> Alike:
    """Compare every line of a group with every other, window by window.

    Parameters
    ----------
    group : StripGroup
        At least two lines.
    lag_m : float
        Lag along the line that is allowed, metres: stagger, start marks and oblique features shift lines.

    Returns
    -------
    Alike

    Notes
    -----
    -log(1 - r^2) is the gain of the logarithm of likelihood, a sample pair, if two Gaussian records are taken as one
    correlated by r and not as independent (Kullback 1959, chapter 9 [memory]). Summed over windows it lets the few
    places speak where neighbours see one thing; over the whole line the rest would drown them. Windows are 2 m long
    and overlap by half, the record is cut into six parts.
    """
    lags = round(lag_m / group.step_m)
    plain = np.stack([s.values for s in group.strips])
    same = _windowed(plain, plain, group.step_m, lags)
    other = _windowed(np.stack([turn(s) for s in group.strips]), plain, group.step_m, lags)
    return Alike(same, 0.5 * (other + other.T))


def _windowed(one: Float32, other: Float32, step_m: float, lags: int) -> Float64:
    """Mean over windows and parts of -log(1 - r^2), r the largest correlation within the lags, (line, line)."""
    lines, count, samples = one.shape
    length = min(max(2, round(_WINDOW_M / step_m)), count)
    parts = min(_PARTS, samples)
    width = samples // parts
    energy = (
        (one[:, :, : parts * width] ** 2).reshape(lines, count, parts, width).sum(axis=3, dtype=np.float64)
    )
    heard = energy.sum(axis=(0, 1)) / max(1, int((energy > 0).any(axis=2).sum()))
    quiet = _QUIET * length * float(np.median(heard))
    total, windows = np.zeros((lines, lines)), 0
    for start in range(0, count - length + 1, max(1, length // 2)):
        windows += 1
        for p in range(parts):
            cut = slice(p * width, (p + 1) * width)
            a = one[:, start : start + length, cut].reshape(lines, -1)
            size_a = np.sqrt((a * a).sum(axis=1))
            best = np.zeros((lines, lines), np.float32)
            for lag in range(-lags, lags + 1):
                first = start + lag
                if first < 0 or first + length > count:
                    continue
                b = other[:, first : first + length, cut].reshape(lines, -1)
                size_b = np.sqrt((b * b).sum(axis=1))
                np.maximum(best, (a @ b.T) / (np.outer(size_a, size_b) + np.float32(quiet)), out=best)
            total -= np.log1p(-(np.minimum(best, _MOST).astype(np.float64) ** 2))
    total /= max(1, windows * parts)
    return np.asarray(total, np.float64)


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


def copies_likeness(traces: Sequence[Float32], sure: float = 0.6) -> Float64:
    """Correlate every two lines trace by trace as `trace_likeness` does.

    Parameters
    ----------
    traces : sequence of (trace, sample) float32
        One time axis; any number of traces.
    sure : float
        Pairs that a sample of at most 400 traces shows to be less alike than this keep that number.

    Returns
    -------
    (line, line) float64
        Below the diagonal; -1 elsewhere.
    """
    count = max(len(t) for t in traces)
    every = max(1, -(-count // 400))
    rows = np.zeros((len(traces), -(-count // every), traces[0].shape[1]), np.float32)
    for k, t in enumerate(traces):
        part = t[::every]
        rows[k, : len(part)] = part - part.mean(axis=0)
        rows[k] = _unit(rows[k])
    flat = rows.reshape(len(traces), -1)
    like = np.where(np.tri(len(traces), k=-1, dtype=bool), flat @ flat.T, -1.0).astype(np.float64)
    for i, j in zip(*np.nonzero(like >= sure), strict=True):
        like[i, j] = trace_likeness(traces[i], traces[j])
    return like


def _unit(values: Float32) -> Float32:
    size = float(np.sqrt((values * values).sum(dtype=float)))
    return values / np.float32(size) if size > 0 else values


def _best(one: Float32, other: Float32, lags: int) -> Float64:
    """Largest correlation within the lags for all pairs of (line, position, sample), (line, line)."""
    lines, count = one.shape[:2]
    best = np.full((lines, lines), -1.0, np.float32)
    for lag in range(-lags, lags + 1):
        low, high = max(0, -lag), count - max(0, lag)
        a = one[:, low:high].reshape(lines, -1)
        b = other[:, low + lag : high + lag].reshape(lines, -1)
        np.maximum(best, a @ b.T, out=best)
    return best.astype(np.float64)
