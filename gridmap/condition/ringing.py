"""Ring-down of the antenna: long tones, constant along a line, are taken off; flat reflectors stay.

A tone that rings on for many periods is the antenna's; an echo of a flat reflector or of a pipe along the line is a
pulse of two periods or so. Both are flat along the line, and plain background removal takes both. Here only what the
tones explain goes. The tones are found from all lines together (the antenna is the same), their size and phase line
by line.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.condition.nearfield import Complex128
from gridmap.model import Float32


def find_tones(
    flat_parts: Float32,
    interval_ns: float,
    from_ns: float,
    band_mhz: tuple[float, float],
    *,
    most: int = 8,
    least_periods: float = 2.5,
) -> Complex128:
    """Find the tones that flat parts of lines share, by the matrix pencil.

    Parameters
    ----------
    flat_parts : (line, sample) float32
        Median trace of each line from time zero on, what is common to all lines taken off.
    interval_ns : float
        Nanoseconds.
    from_ns : float
        Where the direct wave is over, nanoseconds.
    band_mhz : (float, float)
        Tones are looked for between these, megahertz.
    most : int
        Largest number of tones.
    least_periods : float
        Tones that fall to 1/e in less than this many of their periods are left out: a pulse does that too.

    Returns
    -------
    (tone,) complex128
        Growth rate plus angular frequency, 1/ns: exp(s t); real parts not positive, imaginary parts positive.

    Notes
    -----
    Hua and Sarkar 1990 [memory], on the Hankel matrices of all lines side by side, so that they share one signal space.
    Singular values under a fiftieth of the largest are taken for noise.
    """
    start = min(round(from_ns / interval_ns), flat_parts.shape[1] // 2)
    step = max(1, int(1e3 / (4 * band_mhz[1]) / interval_ns))
    parts = flat_parts[:, start::step].astype(float)
    pencil = parts.shape[1] // 3
    if pencil < 4:
        return np.zeros(0, complex)
    hankel = np.concatenate([np.lib.stride_tricks.sliding_window_view(p, pencil) for p in parts])
    _, size, space = np.linalg.svd(hankel.T @ hankel)
    rank = int(min(2 * most, (np.sqrt(size) > 0.02 * np.sqrt(size[0])).sum(), pencil - 1))
    basis = space[:rank].T
    roots = np.linalg.eigvals(np.linalg.lstsq(basis[:-1], basis[1:], rcond=None)[0])
    rate = np.log(roots[np.abs(roots) > 1e-6]) / (step * interval_ns)
    rate = np.minimum(rate.real, 0.0) + 1j * rate.imag
    mhz = rate.imag / (2 * np.pi) * 1e3
    long = -rate.real * least_periods < np.abs(rate.imag) / (2 * np.pi)
    keep = (mhz > band_mhz[0]) & (mhz < band_mhz[1]) & long
    return np.asarray(rate[keep][np.argsort(mhz[keep])])


def tones_of_line(flat_part: Float32, rates: Complex128, interval_ns: float, from_ns: float) -> Float32:
    """Fit the tones to the flat part of one line.

    Parameters
    ----------
    flat_part : (sample,) float32
        As for `find_tones`.
    rates : (tone,) complex128
        From `find_tones`.
    interval_ns, from_ns : float
        As for `find_tones`.

    Returns
    -------
    (sample,) float32
        The tones from `from_ns` on, brought in by half a cosine over one period of the lowest; zero before.

    Notes
    -----
    Robust least squares (Huber's weights, eight rounds): pulses of flat reflectors stand out from the tones and
    hardly count, so they are not explained away.
    """
    samples = len(flat_part)
    if not len(rates):
        return np.zeros(samples, np.float32)
    time = interval_ns * np.arange(samples) - from_ns
    after = time >= 0
    waves = np.exp(rates[None] * np.maximum(time, 0.0)[:, None])
    design = np.concatenate([waves.real, waves.imag], axis=1)
    seen = flat_part.astype(float)
    weight = np.sqrt(after.astype(float))
    fit = np.zeros(design.shape[1])
    for _ in range(8):
        fit = np.linalg.lstsq(design * weight[:, None], seen * weight, rcond=1e-6)[0]
        off = np.abs(seen - design @ fit)
        scale = 1.4826 * float(np.median(off[after])) + 1e-30
        weight = np.sqrt(after / np.maximum(1.0, off / (1.345 * scale)))
    lowest = 2 * np.pi / float(rates.imag.min())
    fade = 0.5 - 0.5 * np.cos(np.pi * np.clip(time / lowest, 0.0, 1.0))
    return np.asarray(design @ fit * fade * after, dtype=np.float32)


def line_tones(
    flat_parts: Sequence[Float32] | Float32,
    common: Float32,
    interval_ns: float,
    from_ns: float,
    band_mhz: tuple[float, float],
) -> tuple[Complex128, Float32]:
    """Find the tones of a survey and each line's share: rates (tone,) and tones (line, sample) float32."""
    own = np.asarray(flat_parts, dtype=np.float32) - common
    rates = find_tones(own, interval_ns, from_ns, band_mhz)
    fitted = np.array([tones_of_line(part, rates, interval_ns, from_ns) for part in own])
    return rates, fitted
