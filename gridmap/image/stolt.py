"""Stolt migration: by Fourier transform, for traces on a regular grid and one velocity.

Only the frequencies that the records hold are carried, so that the job costs about what the bare transforms of the
whole cube would.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numba
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from gridmap.image.lowpass import energy_band, signal_spectrum
from gridmap.model import Float32, Float64
from gridmap.threads import in_parts

Complex64 = NDArray[np.complex64]

HALF_TAPS = 4
"""Frequencies on each side of the one wanted that interpolation takes."""

FRACTIONS = 512
"""Steps between two frequencies at which interpolation weights are tabled."""

ROWS_AT_ONCE = 32
"""Rows transformed along time or depth at once, to bound memory."""


def migrate_stolt(
    cube: Float32,
    cell_m: tuple[float, float],
    interval_ns: float,
    velocity_m_per_ns: float,
    depth_m: Float64,
    angle_deg: float = 45.0,
    pad_m: float = 1.0,
    separation_m: float = 0.0,
) -> Float32:
    """Migrate traces on a regular grid to depth, in 3D, or in 2D where there is one row.

    Parameters
    ----------
    cube : (row, column, sample) float32
        Amplitude; sample 0 is time zero.
    cell_m : (float, float)
        Step from row to row and from column to column, metres; no wider than a quarter wavelength.
    interval_ns : float
        Sample interval, nanoseconds.
    velocity_m_per_ns : float
        The same at all depths, metres per nanosecond.
    depth_m : (depth,) float64
        Depths wanted, evenly spaced from 0, metres.
    angle_deg : float
        Widest dip kept; the last 15 degrees before it fade out, much as the taper of a Kirchhoff aperture does.
    pad_m : float
        Empty ground added at the far edges, so that what leaves on one side does not come in on the other.
    separation_m : float
        Transmitter to receiver, metres; taken out by the moveout of a flat reflector,
        t0^2 = t^2 - (separation / velocity)^2.

    Returns
    -------
    (depth, row, column) float32
        Signed image; a flat reflector keeps its amplitude.

    Notes
    -----
    With v / 2 as the velocity of exploding reflectors (Stolt 1978; Yilmaz 2001 [memory]): omega = v/2 sqrt(kx^2 + ky^2
    + kz^2), amplitude times v/2 kz / sqrt(kx^2 + ky^2 + kz^2). Frequencies between those of the transform by a
    Kaiser-windowed sinc of eight taps, time counted from the middle of the record, where it is smoothest.
    """
    rows, columns, samples = cube.shape
    half_v = 0.5 * velocity_m_per_ns
    length = int(fft.next_fast_len(2 * samples, real=True))
    low, high = _band(cube, interval_ns, length)
    middle_ns = 0.5 * samples * interval_ns
    tall, wide = (
        1 if n == 1 else int(fft.next_fast_len(n + math.ceil(pad_m / step)))
        for n, step in zip((rows, columns), cell_m, strict=True)
    )
    spectrum = np.zeros((tall, wide, high - low), np.complex64)
    omega = 2 * np.pi * np.arange(low, high) / (length * interval_ns)
    turn = np.exp(1j * omega * middle_ns).astype(np.complex64)
    moveout = _moveout(samples, interval_ns, separation_m / velocity_m_per_ns)
    for a in range(0, rows, ROWS_AT_ONCE):
        part = moveout(cube[a : a + ROWS_AT_ONCE])
        spectrum[a : a + len(part), :columns] = (
            fft.rfft(part, length, axis=2, workers=2)[..., low:high] * turn
        )
    spectrum = fft.fft2(spectrum, axes=(0, 1), overwrite_x=True, workers=2)
    depths = len(depth_m)
    step_m = float(depth_m[1] - depth_m[0]) if depths > 1 else 1.0
    deep = int(fft.next_fast_len(2 * depths, real=True))
    kz = 2 * np.pi * np.arange(deep // 2 + 1) / (deep * step_m)
    kz = kz[: int(np.searchsorted(kz, omega[-1] / half_v, side="right"))]
    wave_y = 2 * np.pi * fft.fftfreq(tall, cell_m[0])
    wave_x = 2 * np.pi * fft.fftfreq(wide, cell_m[1])
    image_spectrum = np.empty((tall, wide, len(kz)), np.complex64)
    whole, none = (math.tan(math.radians(a)) for a in (max(angle_deg - 15.0, 0.0), angle_deg))
    table = _sinc_table()

    def take(first: int, last: int, spectrum: Complex64 = spectrum, into: Complex64 = image_spectrum) -> None:
        _map(
            spectrum, wave_y, wave_x, kz, half_v, omega[0], omega[1] - omega[0], middle_ns, whole, none, table, into,
            first, last,
        )  # fmt: skip

    in_parts(take, tall)
    del take
    del spectrum
    image_spectrum = fft.ifft2(image_spectrum, axes=(0, 1), overwrite_x=True, workers=2)
    out = np.empty((depths, rows, columns), np.float32)
    # d omega = v/2 d kz: what one sum over frequencies leaves out when it becomes a sum over wave numbers.
    scale = np.float32(half_v * interval_ns / step_m)
    for a in range(0, rows, ROWS_AT_ONCE):
        part = fft.irfft(image_spectrum[a : min(a + ROWS_AT_ONCE, rows), :columns], deep, axis=2, workers=2)
        out[:, a : a + len(part)] = scale * part[..., :depths].transpose(2, 0, 1)
    return out


def _band(cube: Float32, interval_ns: float, length: int) -> tuple[int, int]:
    """First and one past the last frequency of the padded transform that hold all but 2 in 100 000 of the energy."""
    frequency, amplitude = signal_spectrum([cube.reshape(-1, cube.shape[2])], interval_ns)
    low, high = (mhz * 1e-3 * length * interval_ns for mhz in energy_band(frequency, amplitude, 1e-5))
    return max(0, math.floor(low) - HALF_TAPS), min(length // 2 + 1, math.ceil(high) + HALF_TAPS + 2)


def _moveout(samples: int, interval_ns: float, slant_ns: float) -> Callable[[Float32], Float32]:
    """Return what takes the antennas' separation out of traces: the sample at time t goes to sqrt(t^2 - slant^2)."""
    if slant_ns == 0.0:
        return lambda traces: traces
    at = np.hypot(np.arange(samples), slant_ns / interval_ns)
    low = np.minimum(at.astype(int), samples - 2)
    share = np.minimum(at - low, 1).astype(np.float32)
    return lambda traces: traces[..., low] * (1 - share) + traces[..., low + 1] * share


def _sinc_table() -> Float32:
    """Weights (fraction, tap) of a sinc under a Kaiser window."""
    fraction = np.arange(FRACTIONS + 1)[:, None] / FRACTIONS
    distance = np.arange(1 - HALF_TAPS, HALF_TAPS + 1)[None, :] - fraction
    window = np.i0(5.5 * np.sqrt(np.maximum(1 - (distance / HALF_TAPS) ** 2, 0))) / np.i0(5.5)
    weights = np.sinc(distance) * window
    return np.asarray(weights / weights.sum(axis=1, keepdims=True), dtype=np.float32)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _map(  # type: ignore[no-untyped-def]
    spectrum, wave_y, wave_x, kz, half_v, first, step, middle_ns, whole, none, table, out, begin, end
):
    """Take each vertical wave number from the frequency that belongs to it."""
    taps = table.shape[1]
    half = taps // 2
    count = spectrum.shape[2]
    for row in range(begin, end):
        for x in range(out.shape[1]):
            column = spectrum[row, x]
            target = out[row, x]
            side = wave_y[row] ** 2 + wave_x[x] ** 2
            flat = np.sqrt(side)
            for j in range(len(kz)):
                target[j] = 0.0
                if kz[j] <= 0.0 or flat > none * kz[j]:
                    continue
                total = np.sqrt(side + kz[j] * kz[j])
                omega = half_v * total
                at = (omega - first) / step
                low = int(np.floor(at))
                if low < half - 1 or low + half >= count:
                    continue
                weights = table[int((at - low) * FRACTIONS + 0.5)]
                value = np.complex64(0.0)
                for t in range(taps):
                    value += weights[t] * column[low - half + 1 + t]
                fade = 1.0 if flat <= whole * kz[j] else (none - flat / kz[j]) / (none - whole)
                turn = np.complex64(complex(np.cos(omega * middle_ns), -np.sin(omega * middle_ns)))
                target[j] = np.float32(fade * kz[j] / total) * value * turn
