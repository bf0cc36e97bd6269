"""Band-pass, shift and resampling of traces without a transform: a few taps, then a few decaying waves.

The response of the band-pass is a sum of decaying waves, and each of those is one multiplication a sample, carried
along forward and backward. Before it, some taps bring the traces to the samples that are wanted.
"""

from __future__ import annotations

from functools import cache

import numba as nb
import numpy as np

from gridmap.condition.nearfield import Complex128
from gridmap.model import Float32, Float64

LARGEST_ERROR = 3e-4
"""The gain of taps and waves together is off by no more than this at any frequency."""
_LONGEST = 8
"""Output samples to each side that the taps may reach."""
_ORDER = 4
_ABREAST = 64
"""Traces worked on side by side."""


def waves_of(band_mhz: tuple[float, float], interval_ns: float) -> tuple[Complex128, Complex128]:
    """Decaying waves whose sum is the response of the band-pass of `gridmap.condition.spectrum.band_gain`.

    Parameters
    ----------
    band_mhz : (float, float)
        Corners, megahertz, apart from each other.
    interval_ns : float
        Of the samples that are filtered, nanoseconds.

    Returns
    -------
    size, step : (wave,) complex128
        The response at a lag of n samples is the real part of the sum of size times step to the power |n|.

    Notes
    -----
    1 / (1 + (w / c)^2N) has its poles at c exp(i pi (2 k + 1) / 2N). By residues its response is the real part of the
    sum over those in one quadrant of -i/N w_k exp(i w_k |t|); in a product of two such gains each pole counts times
    the other gain there [derived]. Sampled, gains far over the Nyquist frequency fold back.
    """
    low, high = (
        2e-3 * np.pi * c * np.exp(1j * np.pi * (2 * np.arange(_ORDER // 2) + 1) / (2 * _ORDER))
        for c in band_mhz
    )
    corner = 2e-3 * np.pi * np.asarray(band_mhz)
    passed_below = 1 / (1 + (low / corner[1]) ** (2 * _ORDER))
    cut_above = 1 - 1 / (1 + (high / corner[0]) ** (2 * _ORDER))
    pole = np.concatenate([low, high])
    share = np.concatenate([-passed_below, cut_above])
    return -1j / _ORDER * pole * interval_ns * share, np.exp(1j * pole * interval_ns)


@cache
def reach_of(interval_ns: float, out_ns: float, band_mhz: tuple[float, float]) -> float | None:
    """Output samples (or samples given, where those are farther apart) that the taps must reach to each side.

    Parameters
    ----------
    interval_ns, out_ns : float
        Of the traces and of the samples wanted, nanoseconds.
    band_mhz : (float, float)
        Corners, megahertz.

    Returns
    -------
    float or None
        The shortest with which the gain is right within `LARGEST_ERROR` and nothing stronger folds back; None where
        the band ends too near the Nyquist frequency for that.
    """
    wide_ns = max(interval_ns, out_ns)
    high = band_mhz[1] * 1e-3
    if (2 * wide_ns * high) ** (2 * _ORDER) > LARGEST_ERROR or band_mhz[0] * 1.2 > band_mhz[1]:
        return None
    ghz = np.linspace(0.0, 1.0 / wide_ns, 400)
    kept = 1 / (1 + (ghz / high) ** (2 * _ORDER))
    for reach in range(2, _LONGEST + 1):
        lag = np.linspace(-reach, reach, 400 * reach + 1)  # two hundred to a unit
        response = _tap(lag, reach) / 200
        passed = np.cos(2 * np.pi * np.outer(ghz, lag * wide_ns)) @ response
        off = np.abs(passed - 1) * kept
        folded = np.abs(passed) * kept[::-1]
        if (
            max(float(off[ghz < 0.5 / wide_ns].max()), float(folded[ghz >= 0.5 / wide_ns].max()))
            <= LARGEST_ERROR
        ):
            return float(reach)
    return None


def _tap(lag: Float64, reach: float) -> Float64:
    """Weight at a lag in units of the wider interval: the sinc, faded by Kaiser's window (Kaiser 1974 [memory])."""
    inside = np.sqrt(np.maximum(1 - (lag / reach) ** 2, 0.0))
    return np.asarray(np.sinc(lag) * np.i0(7.0 * inside) / np.i0(7.0) * (np.abs(lag) <= reach))


def waves_passed(
    traces: Float32,
    interval_ns: float,
    zero_ns: float,
    coarser: int,
    finer: int,
    band_mhz: tuple[float, float],
    reach: float,
    fade: Float32,
    outputs: int,
    samples: int,
) -> Float32:
    """Filter traces and take them at other times.

    Parameters
    ----------
    traces : (trace, sample) float32
        C order.
    interval_ns, zero_ns : float
        Sample interval, and time of the first output after the first sample, nanoseconds.
    coarser, finer : int
        The interval of the outputs is `interval_ns` times `coarser` over `finer`; one of the two is 1.
    band_mhz : (float, float)
        Corners, megahertz.
    reach : float
        From `reach_of`.
    fade : (tail,) float32
        A trace is taken to go on at both ends with its last value there times this.
    outputs, samples : int
        Outputs that are reckoned, and columns of the result, zero behind those.

    Returns
    -------
    (trace, samples) float32
    """
    n, tail = traces.shape[1], len(fade)
    out = np.zeros((len(traces), samples), np.float32)
    zero = zero_ns / interval_ns
    # As many outputs before time zero, and behind the record, as it takes to have the tails.
    skipped = max(0, int(np.ceil((zero + tail) * finer / coarser)))
    skipped = -(-skipped // finer) * finer
    start = zero - skipped * coarser / finer
    turns = max(int(np.ceil((n + tail - start) / coarser)), -(-(skipped + outputs) // finer))
    whole = int(np.floor(start))
    span = int(np.ceil(reach * coarser))
    place = np.arange(-span, span + 3 + -(2 * span + 3) % 4)
    at = start - whole + np.arange(finer) / finer
    taps = (_tap((place - at[:, None]) / coarser, reach) / coarser).astype(np.float32)
    before = max(tail, span - whole)
    size = before + max(n + tail, whole + turns * coarser + len(place))
    sizes, steps = waves_of(band_mhz, interval_ns * coarser / finer)
    wave = np.stack([sizes.real, sizes.imag, steps.real, steps.imag]).astype(np.float32)
    _run(traces, taps, whole - span + before, coarser, fade, before, size, wave, skipped, outputs, turns, out)
    return out


@nb.njit(cache=True, nogil=True, fastmath=True)
def _run(traces, taps, first, coarser, fade, before, size, wave, skipped, outputs, turns, out):  # type: ignore[no-untyped-def]
    """So many traces at a time, lying side by side, that they stay in the processor's second cache."""
    n, tail, phases, wide = traces.shape[1], len(fade), len(taps), _ABREAST
    room = np.zeros(size * wide, np.float32)
    brought = np.empty(turns * phases * wide, np.float32)
    passed = np.empty(turns * phases * wide, np.float32)
    begin, end = (
        room[before * wide : (before + 1) * wide],
        room[(before + n - 1) * wide : (before + n) * wide],
    )
    for top in range(0, len(traces), wide):
        many = min(wide, len(traces) - top)
        for i in range(many):
            row, into = traces[top + i], room[before * wide + i :]
            for k in range(n):
                into[k * wide] = row[k]
        for k in range(tail):
            left = room[(before - 1 - k) * wide : (before - k) * wide]
            right = room[(before + n + k) * wide : (before + n + k + 1) * wide]
            for i in range(wide):
                left[i] = begin[i] * fade[k]
                right[i] = end[i] * fade[k]
        for p in range(phases):
            for k in range(turns):
                at = (k * phases + p) * wide
                _weigh(room[(first + k * coarser) * wide :], taps[p], brought[at : at + wide])
        _carry(brought, wave, passed)
        for i in range(many):
            to, source = out[top + i], passed[skipped * wide + i :]
            for k in range(outputs):
                to[k] = source[k * wide]


@nb.njit(cache=True, nogil=True, fastmath=True)
def _weigh(room, taps, out):  # type: ignore[no-untyped-def]
    """Weighted sum of the first rows of `room`; the number of taps is a multiple of four."""
    wide = _ABREAST
    out[:] = np.float32(0.0)
    for q in range(0, len(taps), 4):
        x = room[q * wide : (q + 4) * wide]
        x0, x1, x2, x3 = x[:wide], x[wide : 2 * wide], x[2 * wide : 3 * wide], x[3 * wide :]
        h0, h1, h2, h3 = taps[q], taps[q + 1], taps[q + 2], taps[q + 3]
        for i in range(wide):
            out[i] += h0 * x0[i] + h1 * x1[i] + h2 * x2[i] + h3 * x3[i]


@nb.njit(cache=True, nogil=True, fastmath=True)
def _carry(brought, wave, passed):  # type: ignore[no-untyped-def]
    """Sum what the four waves carry along, forward (with the sample itself) and backward (without it).

    Written out, since only so the compiler keeps all four in vectors.
    """
    w = _ABREAST
    s = np.zeros(8 * w, np.float32)
    r0, m0, r1, m1 = s[:w], s[w : 2 * w], s[2 * w : 3 * w], s[3 * w : 4 * w]
    r2, m2, r3, m3 = s[4 * w : 5 * w], s[5 * w : 6 * w], s[6 * w : 7 * w], s[7 * w :]
    c0, d0, p0, q0 = wave[0, 0], wave[1, 0], wave[2, 0], wave[3, 0]
    c1, d1, p1, q1 = wave[0, 1], wave[1, 1], wave[2, 1], wave[3, 1]
    c2, d2, p2, q2 = wave[0, 2], wave[1, 2], wave[2, 2], wave[3, 2]
    c3, d3, p3, q3 = wave[0, 3], wave[1, 3], wave[2, 3], wave[3, 3]
    count = len(brought) // w
    for k in range(count):
        x, to = brought[k * w : (k + 1) * w], passed[k * w : (k + 1) * w]
        for i in range(w):
            v = x[i]
            a0, b0 = v + p0 * r0[i] - q0 * m0[i], p0 * m0[i] + q0 * r0[i]
            a1, b1 = v + p1 * r1[i] - q1 * m1[i], p1 * m1[i] + q1 * r1[i]
            a2, b2 = v + p2 * r2[i] - q2 * m2[i], p2 * m2[i] + q2 * r2[i]
            a3, b3 = v + p3 * r3[i] - q3 * m3[i], p3 * m3[i] + q3 * r3[i]
            to[i] = (c0 * a0 - d0 * b0) + (c1 * a1 - d1 * b1) + (c2 * a2 - d2 * b2) + (c3 * a3 - d3 * b3)
            r0[i] = a0
            m0[i] = b0
            r1[i] = a1
            m1[i] = b1
            r2[i] = a2
            m2[i] = b2
            r3[i] = a3
            m3[i] = b3
    s[:] = np.float32(0.0)
    for k in range(count - 1, -1, -1):
        x, to = brought[k * w : (k + 1) * w], passed[k * w : (k + 1) * w]
        for i in range(w):
            v = x[i]
            a0, b0, a1, b1 = r0[i], m0[i], r1[i], m1[i]
            a2, b2, a3, b3 = r2[i], m2[i], r3[i], m3[i]
            to[i] += (c0 * a0 - d0 * b0) + (c1 * a1 - d1 * b1) + (c2 * a2 - d2 * b2) + (c3 * a3 - d3 * b3)
            a0, a1, a2, a3 = a0 + v, a1 + v, a2 + v, a3 + v
            r0[i] = p0 * a0 - q0 * b0
            m0[i] = p0 * b0 + q0 * a0
            r1[i] = p1 * a1 - q1 * b1
            m1[i] = p1 * b1 + q1 * a1
            r2[i] = p2 * a2 - q2 * b2
            m2[i] = p2 * b2 + q2 * a2
            r3[i] = p3 * a3 - q3 * b3
            m3[i] = p3 * b3 + q3 * a3
