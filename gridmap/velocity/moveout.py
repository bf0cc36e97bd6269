"""Compiled sums of a line's analytic signal along diffraction curves, separation and surface in them."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from gridmap.model import Bool, Float32, Float64, Int64
from gridmap.threads import in_parts
from gridmap.velocity.surface import SurfaceEffect

Complex64 = NDArray[np.complex64]
UInt32 = NDArray[np.uint32]

ENOUGH_TRACES = 32
"""Of an aperture with twice as many traces or more, the scan of a line takes every second, fourth, ...; what it
finds is fitted with all of them. Traces nearer than two fifths of a wavelength tell nearly the same."""


@numba.njit(cache=True, fastmath=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _look(row: Float64, where: float) -> float:
    k = int(where)
    if k > len(row) - 2:
        return float(row[-1])
    return float(row[k] + (row[k + 1] - row[k]) * (where - k))


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")  # type: ignore[untyped-decorator]
def scan_velocities(
    signal: Complex64,
    along_m: Float64,
    good: Bool,
    apex_m: float,
    time_ns: float,
    shift_ns: float,
    velocities: Float64,
    interval_ns: float,
    separation_m: float,
    squeeze: float,
    half_m: float,
    table_v: Float64,
    log_depth: Float64,
    angle_step: float,
    delay: Float64,
    phase: Float64,
    gate: int,
    out: Float64,
) -> None:
    """Fill `out` with the coherence along one diffraction curve for each velocity.

    Parameters
    ----------
    signal : (trace, sample) complex64
        Analytic signal, sample 0 at time zero.
    along_m : (trace,) float64
        Increasing metres.
    good : (trace,) bool
        False: left out.
    apex_m, time_ns : float
        Apex along the line; vertical two-way time in the ground to the curve's centre.
    shift_ns : float
        Added to every time: minus the time between the front and the centre of the target.
    velocities : (velocity,) float64
        Metres per nanosecond.
    interval_ns, separation_m : float
        Sample interval; antenna separation along the line.
    squeeze : float
        Cosine of the angle at which a linear target is crossed, measured from the perpendicular; 1: a point.
    half_m : float
        Half of the aperture along the line.
    table_v, log_depth, angle_step, delay, phase
        The `SurfaceEffect`.
    gate : int
        Samples on each side of the curve that are summed too.
    out : (velocity, 5) float64
        Semblance; coherent power; count of traces; coherent power of the limbs before and after the apex.
    """
    samples = signal.shape[1]
    width = 2 * gate + 1
    first = np.searchsorted(along_m, apex_m - half_m)
    last = np.searchsorted(along_m, apex_m + half_m)
    for k in range(len(velocities)):
        v = velocities[k]
        z = 0.5 * v * time_ns
        place = (np.log(z) - log_depth[0]) / (log_depth[1] - log_depth[0])
        kz = min(max(int(place), 0), len(log_depth) - 2)
        fz = min(max(place - kz, 0.0), 1.0)
        kv = min(max(np.searchsorted(table_v, v) - 1, 0), len(table_v) - 2)
        fv = min(max((v - table_v[kv]) / (table_v[kv + 1] - table_v[kv]), 0.0), 1.0)
        row_t = (delay[kv, kz] * (1 - fz) + delay[kv, kz + 1] * fz) * (1 - fv) + (
            delay[kv + 1, kz] * (1 - fz) + delay[kv + 1, kz + 1] * fz
        ) * fv
        row_p = (phase[kv, kz] * (1 - fz) + phase[kv, kz + 1] * fz) * (1 - fv) + (
            phase[kv + 1, kz] * (1 - fz) + phase[kv + 1, kz + 1] * fz
        ) * fv
        # Coherent sums before and after the apex, apart, so that a one-sided limb shows.
        real = np.zeros((2, width))
        imag = np.zeros((2, width))
        weights = np.zeros(2)
        power = 0.0
        count = 0
        for i in range(first, last):
            if not good[i]:
                continue
            d = along_m[i] - apex_m
            near = abs(d * squeeze - 0.5 * separation_m * squeeze)
            far = abs(d * squeeze + 0.5 * separation_m * squeeze)
            a = np.arctan(near / z) / angle_step
            b = np.arctan(far / z) / angle_step
            time = (np.sqrt(z * z + near * near) + np.sqrt(z * z + far * far)) / v
            time = (time + _look(row_t, a) + _look(row_t, b) + shift_ns) / interval_ns
            turn = _look(row_p, a) + _look(row_p, b)
            j = int(time) - gate
            f = time - int(time)
            if j < 0 or j + width + 1 >= samples:
                continue
            w = 1.0 - 0.75 * (d / half_m) ** 2
            side = 0 if d < 0 else 1
            weights[side] += w
            count += 1
            c = np.cos(turn)
            s = np.sin(turn)
            for g in range(width):
                value = signal[i, j + g] * (1 - f) + signal[i, j + g + 1] * f
                re = value.real * c - value.imag * s
                im = value.imag * c + value.real * s
                real[side, g] += w * re
                imag[side, g] += w * im
                power += w * (re * re + im * im)
        both = 0.0
        sides = np.zeros(2)
        for g in range(width):
            both += (real[0, g] + real[1, g]) ** 2 + (imag[0, g] + imag[1, g]) ** 2
            for side in range(2):
                sides[side] += real[side, g] ** 2 + imag[side, g] ** 2
        total = weights[0] + weights[1]
        out[k, 0] = both / (total * power + 1e-30)
        out[k, 1] = both / (total * total + 1e-30) / width
        out[k, 2] = count
        out[k, 3] = sides[0] / (weights[0] ** 2 + 1e-30) / width
        out[k, 4] = sides[1] / (weights[1] ** 2 + 1e-30) / width


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")  # type: ignore[untyped-decorator]
def strongest_apex(
    signal: Complex64,
    along_m: Float64,
    good: Bool,
    apex_m: float,
    front_ns: float,
    apexes_m: Float64,
    fronts_ns: Float64,
    shift_ns: float,
    velocity: float,
    interval_ns: float,
    separation_m: float,
    squeeze: float,
    half_m: float,
    table_v: Float64,
    log_depth: Float64,
    angle_step: float,
    delay: Float64,
    phase: Float64,
) -> tuple[float, float]:
    """Return the apex and the time of the front, of those tried, with the most coherent power along their curve.

    Parameters
    ----------
    apex_m, front_ns : float
        Returned where no curve holds power.
    apexes_m, fronts_ns : (apex,), (time,) float64
        Tried in every combination; the time of the curve's centre is the front's less `shift_ns`.
    signal, along_m, good, shift_ns, velocity, interval_ns, separation_m, squeeze, half_m
        As in `scan_velocities`, one velocity.
    table_v, log_depth, angle_step, delay, phase
        The `SurfaceEffect`.
    """
    top = -1.0
    gate = np.int64(0)  # typed, else this call has the other compiled a second time
    out = np.zeros((1, 5))
    one = np.array([velocity])
    for at in apexes_m:
        for front in fronts_ns:
            scan_velocities(
                signal, along_m, good, at, front - shift_ns, shift_ns, one, interval_ns, separation_m, squeeze,
                half_m, table_v, log_depth, angle_step, delay, phase, gate, out,
            )  # fmt: skip
            if out[0, 1] > top:
                top, apex_m, front_ns = out[0, 1], at, front
    return apex_m, front_ns


def curves(
    velocities: Float64,
    times_ns: Float64,
    offsets_m: Float64,
    separation_m: float,
    interval_ns: float,
    effect: SurfaceEffect,
) -> tuple[Float32, Complex64]:
    """Table travel times for the coarse scan.

    Parameters
    ----------
    velocities : (velocity,) float64
        Metres per nanosecond; above 0.2 the surface effect is left out, as those waves go through air.
    times_ns : (time,) float64
        Vertical two-way time in the ground.
    offsets_m : (offset,) float64
        Distance from the apex along the line.
    separation_m, interval_ns : float
        Antenna separation; sample interval.
    effect : SurfaceEffect
        Of this antenna.

    Returns
    -------
    (velocity, time, offset) float32
        Sample number, with fraction.
    (velocity, time, offset) complex64
        Factor that turns the phase back.
    """
    sample = np.zeros((len(velocities), len(times_ns), len(offsets_m)), np.float32)
    turn = np.zeros(sample.shape)
    table_v, log_depth = effect.velocity_m_per_ns, effect.log_depth
    for k, v in enumerate(velocities):
        kv = int(np.clip(np.searchsorted(table_v, v) - 1, 0, len(table_v) - 2))
        fv = float(np.clip((v - table_v[kv]) / (table_v[kv + 1] - table_v[kv]), 0, 1))
        in_ground = float(v < 0.2)
        for j, time in enumerate(times_ns):
            z = 0.5 * v * time
            place = (np.log(z) - log_depth[0]) / (log_depth[1] - log_depth[0])
            kz = int(np.clip(place, 0, len(log_depth) - 2))
            fz = float(np.clip(place - kz, 0, 1))
            rows = [
                (table[kv, kz] * (1 - fz) + table[kv, kz + 1] * fz) * (1 - fv)
                + (table[kv + 1, kz] * (1 - fz) + table[kv + 1, kz + 1] * fz) * fv
                for table in (effect.delay_ns, effect.phase_rad)
            ]
            for sign in (-0.5, 0.5):
                d = np.abs(offsets_m + sign * separation_m)
                angle = np.arctan(d / z)
                sample[k, j] += (
                    np.hypot(z, d) / v + in_ground * np.interp(angle, effect.angle_rad, rows[0])
                ) / interval_ns
                turn[k, j] += in_ground * np.interp(angle, effect.angle_rad, rows[1])
    return sample, np.exp(1j * turn).astype(np.complex64)


@dataclass(frozen=True, slots=True)
class CurveTables:
    """The curves of a scan, laid out as its sums need them; (velocity, offset, time) each.

    Attributes
    ----------
    whole : uint32
        Sample before the curve.
    part : float32
        How far the curve lies from it to the next, 0 to 1.
    cosine, sine : float32
        Of the phase that is turned back.
    """

    whole: UInt32
    part: Float32
    cosine: Float32
    sine: Float32

    @classmethod
    def of(cls, sample: Float32, turn: Complex64) -> CurveTables:
        """Lay out what `curves` gives."""
        by_time = np.ascontiguousarray(sample.transpose(0, 2, 1))
        whole = by_time.astype(np.uint32)
        back = turn.transpose(0, 2, 1)
        part = (by_time - whole).astype(np.float32)
        return cls(whole, part, np.ascontiguousarray(back.real), np.ascontiguousarray(back.imag))


def scan_line(
    signal: Complex64,
    along_m: Float64,
    good: Bool,
    apexes_m: Float64,
    half_m: Float64,
    tables: CurveTables,
    offset_step_m: float,
) -> Float32:
    """Semblance and coherent power of a line for every apex, time and velocity.

    Parameters
    ----------
    signal, along_m, good
        As in `scan_velocities`.
    apexes_m : (apex,) float64
        Where along the line.
    half_m : (velocity, time) float64
        Half apertures, metres, not falling with time.
    tables : CurveTables
        Offsets spaced by `offset_step_m` from 0.

    Returns
    -------
    (velocity, apex, time, 2) float32
        Semblance and coherent power; 0 where fewer than five traces lie on the curve; of wide apertures over dense
        traces not all are taken (`ENOUGH_TRACES`).
    """
    spacing = max(float(np.median(np.diff(along_m))), 1e-6)
    many = np.maximum(2.0 * half_m / (spacing * ENOUGH_TRACES), 1.0)
    every = np.exp2(np.minimum(np.floor(np.log2(many)), 4.0)).astype(np.int64)
    # Until when the n-th of sixteen traces takes part.
    until = np.stack(
        [np.logical_and.accumulate(n % every == 0, axis=1).sum(axis=1) for n in range(16)], axis=1
    )
    # A curve is left where it runs out of the record.
    inside = np.logical_and.accumulate(tables.whole + 1 < signal.shape[1], axis=2).sum(axis=2)
    out = np.empty((len(half_m), len(apexes_m), half_m.shape[1], 2), np.float32)
    in_parts(
        lambda a, b: _sum_along(
            signal, along_m, good, apexes_m, half_m, until, tables.whole, tables.part, inside, tables.cosine,
            tables.sine, offset_step_m, out, a, b,
        ),
        len(apexes_m),
    )  # fmt: skip
    return out


@numba.njit(cache=True, fastmath=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _add_trace(
    trace: Complex64,
    whole: UInt32,
    part: Float32,
    cosine: Float32,
    sine: Float32,
    bend: Float32,
    square: float,
    scratch: Float32,
    re: Float32,
    im: Float32,
    power: Float32,
) -> None:
    """Add one trace to the sums of `_sum_along`; one array is written in each loop, else none is vectorised."""
    times = len(whole)
    u, v = scratch[0, :times], scratch[1, :times]
    for j in range(times):
        m = np.uint64(whole[j])
        f = part[j]
        before, after = trace[m], trace[m + np.uint64(1)]
        u[j] = before.real + (after.real - before.real) * f
        v[j] = before.imag + (after.imag - before.imag) * f
    for j in range(times):
        re[j] += (np.float32(1.0) - bend[j] * square) * (u[j] * cosine[j] - v[j] * sine[j])
    for j in range(times):
        im[j] += (np.float32(1.0) - bend[j] * square) * (v[j] * cosine[j] + u[j] * sine[j])
    for j in range(times):
        power[j] += (np.float32(1.0) - bend[j] * square) * (u[j] * u[j] + v[j] * v[j])


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _sum_along(
    signal: Complex64,
    along_m: Float64,
    good: Bool,
    apexes_m: Float64,
    half_m: Float64,
    until: Int64,
    whole: UInt32,
    part: Float32,
    inside: Int64,
    cosine: Float32,
    sine: Float32,
    offset_step_m: float,
    out: Float32,
    from_apex: int,
    to_apex: int,
) -> None:
    """Fill `out` trace by trace: all times of one trace lie close in memory; tables are (velocity, offset, time)."""
    speeds, offsets, times = whole.shape
    for a in range(from_apex, to_apex):
        apex = apexes_m[a]
        sums = np.empty((3, times), np.float32)
        re, im, power = sums[0], sums[1], sums[2]
        # where in time the count of traces and the sum of their squared distances change
        change = np.empty((times + 1, 2))
        scratch = np.empty((2, times), np.float32)
        bend = np.empty(times, np.float32)
        for k in range(speeds):
            sums[:] = 0.0
            change[:] = 0.0
            half = half_m[k]
            for j in range(times):
                bend[j] = 0.75 / (half[j] * half[j])
            first = np.searchsorted(along_m, apex - half[times - 1])
            last = np.searchsorted(along_m, apex + half[times - 1])
            begin = times
            for i in range(first, last):
                at = along_m[i]
                # the first time whose aperture holds the trace: it moves up towards the apex, down after it
                begin = min(begin, times)
                while begin > 0 and apex - half[begin - 1] <= at < apex + half[begin - 1]:
                    begin -= 1
                while begin < times and not apex - half[begin] <= at < apex + half[begin]:
                    begin += 1
                if not good[i]:
                    continue
                d = abs(at - apex)
                b = min(int(d / offset_step_m + 0.5), offsets - 1)
                square = np.float32(d * d)
                end = min(inside[k, b], until[k, i % 16])
                if begin < end:
                    _add_trace(
                        signal[i], whole[k, b, begin:end], part[k, b, begin:end], cosine[k, b, begin:end],
                        sine[k, b, begin:end], bend[begin:end], square, scratch, re[begin:end], im[begin:end],
                        power[begin:end],
                    )  # fmt: skip
                    change[begin, 0] += 1.0
                    change[begin, 1] += d * d
                    change[end, 0] -= 1.0
                    change[end, 1] -= d * d
            count, squares = 0.0, 0.0
            for j in range(times):
                count += change[j, 0]
                squares += change[j, 1]
                both = re[j] * re[j] + im[j] * im[j]
                weight = count - bend[j] * squares
                enough = count > 4.5
                out[k, a, j, 0] = both / (weight * power[j] + 1e-30) if enough else 0.0
                out[k, a, j, 1] = both / (weight * weight) if enough else 0.0
