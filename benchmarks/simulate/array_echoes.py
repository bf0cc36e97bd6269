"""Echoes for surveys of hectares: whole pulses laid trace by trace in ground of one velocity.

The sums of `echoes` lay spikes on a fine axis and give them the pulse by FFT: right for layers, slow for
millions of traces. Here the pulse stands ready in a table, one row for each sixteenth of a sample, and an
echo is one short multiply-add.
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from benchmarks.simulate.pulse import direct_spectrum, ricker_spectrum

PHASES = 16
"""Rows of a pulse table: shifts by a whole number of sixteenths of a sample."""


def pulse_table(spectrum: np.ndarray, samples: int, before: int) -> np.ndarray:
    """Lay a pulse out at `PHASES` fractional shifts.

    Parameters
    ----------
    spectrum : (frequency,) complex
        Of the pulse, amplitude x ns divided by the sample interval; its centre at time 0.
    samples : int
        Length of the table's rows; the spectrum belongs to twice as many samples.
    before : int
        Samples of a row that lie before the pulse's centre.

    Returns
    -------
    (phase, sample) float32
        Row p holds the pulse centred at `before` + p / PHASES.
    """
    length = 2 * (len(spectrum) - 1)
    turn = 2 * np.pi * np.arange(len(spectrum)) / length
    shift = before + np.arange(PHASES) / PHASES
    rows = np.fft.irfft(spectrum * np.exp(-1j * np.outer(shift, turn)), length, axis=1)
    return rows[:, :samples].astype(np.float32)


def tables(
    centre_ghz: float, interval_ns: float, separation_m: float, velocity: float
) -> tuple[np.ndarray, ...]:
    """Return tables of the pulse, of its derivative (per ns) and of the wave straight to the receiver."""
    samples = 2 * math.ceil(1.3 / centre_ghz / interval_ns)
    long = 4 * samples
    frequency = np.arange(2 * long + 1) / (4 * long * interval_ns)
    pulse = ricker_spectrum(frequency, centre_ghz) / interval_ns
    direct = direct_spectrum(frequency, centre_ghz, separation_m, velocity, 0.25) / interval_ns
    return (
        pulse_table(pulse, samples, samples // 2),
        pulse_table(pulse * 2j * np.pi * frequency, samples, samples // 2),
        pulse_table(direct, long, samples // 2),
    )


@nb.njit(inline="always")
def _lay(row, table, before, place, strength):
    """Add one pulse centred at `place` samples; what leaves the record is cut."""
    steps = math.floor(place * PHASES + 0.5)
    first, phase = steps // PHASES - before, steps % PHASES
    a, b = max(0, -first), min(table.shape[1], len(row) - first)
    if b <= a:
        return
    target = row[first + a : first + b]
    source = table[phase, a:b]
    for k in range(len(target)):
        target[k] += strength * source[k]


@nb.njit(parallel=True, cache=True)
def lay_points(out, src, rec, zero, xyz, strength, table, before, per_m, loss, aperture):
    """Add point scatterers to `out` (channel, trace, sample).

    `src`, `rec` (channel, trace, 2) run evenly along y; `zero` (channel,) is time zero in samples, `per_m`
    samples a metre of path, `loss` nepers a metre.
    """
    traces = out.shape[1]
    for c in nb.prange(out.shape[0]):
        y_first = src[c, 0, 1]
        step = (src[c, traces - 1, 1] - y_first) / (traces - 1)
        slack = 1.0
        for m in range(xyz.shape[0]):
            x, y, z = xyz[m, 0], xyz[m, 1], xyz[m, 2]
            near, far = (y - y_first - aperture - slack) / step, (y - y_first + aperture + slack) / step
            a, b = int(max(0.0, min(near, far))), int(min(traces - 1.0, max(near, far)))
            for n in range(a, b + 1):
                h1, h2 = (
                    math.hypot(x - src[c, n, 0], y - src[c, n, 1]),
                    math.hypot(x - rec[c, n, 0], y - rec[c, n, 1]),
                )
                share = 0.25 * (h1 + h2) ** 2 / aperture**2
                if share >= 1.0:
                    continue
                d1, d2 = math.sqrt(h1 * h1 + z * z), math.sqrt(h2 * h2 + z * z)
                size = strength[m] * min(1.0, 4.0 * (1.0 - share)) * z / math.sqrt(d1 * d2) ** 3
                size *= math.exp(-loss * (d1 + d2))
                _lay(out[c, n], table, before, zero[c] + (d1 + d2) * per_m, size)


@nb.njit(parallel=True, cache=True)
def lay_pipe(out, src, rec, zero, start, end, radius, reflection, table, before, per_m, loss, aperture):
    """Add the near wall of a straight pipe; the shortest way over its axis is exact by unfolding."""
    ax, ay, az = end[0] - start[0], end[1] - start[1], end[2] - start[2]
    length = math.sqrt(ax * ax + ay * ay + az * az)
    ax, ay, az = ax / length, ay / length, az / length
    for c in nb.prange(out.shape[0]):
        for n in range(out.shape[1]):
            sx, sy = src[c, n, 0] - start[0], src[c, n, 1] - start[1]
            rx, ry = rec[c, n, 0] - start[0], rec[c, n, 1] - start[1]
            s_along, r_along = sx * ax + sy * ay - start[2] * az, rx * ax + ry * ay - start[2] * az
            middle = 0.5 * (s_along + r_along)
            if middle < 0.0 or middle > length:
                continue
            d1 = math.sqrt(max(0.0, sx * sx + sy * sy + start[2] ** 2 - s_along * s_along))
            d2 = math.sqrt(max(0.0, rx * rx + ry * ry + start[2] ** 2 - r_along * r_along))
            d = 0.5 * (d1 + d2)
            depth = start[2] + middle * az
            aside = math.sqrt(max(0.0, d * d - depth * depth)) / aperture
            if aside >= 1.0:
                continue
            path = math.sqrt((d1 + d2) ** 2 + (s_along - r_along) ** 2)
            size = reflection * min(1.0, 4.0 * (1.0 - aside)) * depth / d * math.exp(-loss * path)
            place = zero[c] + (path - 2 * radius) * per_m
            _lay(out[c, n], table, before, place, size / path * math.sqrt(radius / d))


@nb.njit(parallel=True, cache=True)
def lay_interface(out, mid, zero, depth, waves, reflection, table, before, per_m, loss):
    """Add the echo of a gently waving boundary straight below each trace; `waves` as in `Interface`."""
    for c in nb.prange(out.shape[0]):
        for n in range(out.shape[1]):
            h = depth
            for k in range(waves.shape[0]):
                h += waves[k, 0] * math.cos(
                    waves[k, 1] * mid[c, n, 0] + waves[k, 2] * mid[c, n, 1] + waves[k, 3]
                )
            size = reflection * math.exp(-2.0 * loss * h) / (2.0 * h)
            _lay(out[c, n], table, before, zero[c] + 2.0 * h * per_m, size)


@nb.njit(parallel=True, cache=True)
def lay_direct(out, place, strength, table, before):
    """Add the wave straight to the receiver; `place` (channel, trace) in samples, `strength` (channel,)."""
    for c in nb.prange(out.shape[0]):
        for n in range(out.shape[1]):
            _lay(out[c, n], table, before, place[c, n], strength[c])
