"""Corners of a band-pass, suggested from where the data's own spectrum stands above its noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import fft

from gridmap.model import Float32, Float64


@dataclass(frozen=True, slots=True)
class BandEvidence:
    """Spectra of a line and the band they suggest.

    Attributes
    ----------
    frequency_mhz : (frequency,) float64
        Megahertz.
    echo, noise : (frequency,) float64
        Amplitude spectral density of what is coherent from trace to trace, and of what is not; same unit.
    corners_mhz : (float, float)
        Suggested corners, megahertz.
    """

    frequency_mhz: Float64
    echo: Float64
    noise: Float64
    corners_mhz: tuple[float, float]


def suggest_band(
    traces: Float32,
    sample_interval_ns: float,
    nominal_mhz: float,
    *,
    least_db: float = 3.0,
    floor_db: float = -26.0,
    widest: tuple[float, float] = (0.25, 2.5),
) -> BandEvidence:
    """Suggest corners from the band in which echoes stand above the noise.

    Parameters
    ----------
    traces : (trace, sample) float32
        Good traces of one line in the order walked, dewowed, 5 or more.
    sample_interval_ns : float
        Nanoseconds.
    nominal_mhz : float
        Nominal frequency of the antenna, megahertz.
    least_db : float
        How far the power of echoes must stand above that of the noise, decibels.
    floor_db : float
        Frequencies weaker than this against the strongest are left out, decibels.
    widest : (float, float)
        The corners stay within these multiples of the nominal frequency.

    Returns
    -------
    BandEvidence
        The corners enclose the run of frequencies around the strongest that pass both limits.

    Notes
    -----
    The line's median trace is taken off, since ringing and the direct wave are no echoes. Noise power is that of second
    differences from trace to trace, less their factor of 6 (as in `noise`); echo power is the whole less the noise.
    Spectra are smoothed over a tenth of the nominal frequency. Periodograms with a Hann taper (Welch 1967 [memory]).
    """
    count, samples = traces.shape
    length = int(fft.next_fast_len(4 * samples, real=True))
    frequency = fft.rfftfreq(length, sample_interval_ns * 1e-3)
    taper = np.hanning(samples).astype(np.float32)
    part = traces - np.median(traces, axis=0)
    differ = part[:-2] - 2 * part[1:-1] + part[2:]
    step = max(1, count // 200)
    whole, noise = (
        np.mean(np.abs(fft.rfft(p[::step] * taper, length, axis=1)) ** 2, axis=0, dtype=float)
        for p in (part, differ)
    )
    width = max(1, round(0.1 * nominal_mhz / frequency[1]))
    kernel = np.ones(width) / width
    whole, noise = (np.convolve(p, kernel, mode="same") for p in (whole, noise / 6))
    echo = np.maximum(whole - noise, 0.0)
    inner = (frequency >= widest[0] * nominal_mhz) & (frequency <= widest[1] * nominal_mhz)
    good = inner & (echo > 10 ** (least_db / 10) * noise) & (echo > 10 ** (floor_db / 10) * echo[inner].max())
    top = int(np.argmax(np.where(inner, echo, -1.0)))
    first, last = top, top
    while first > 0 and good[first - 1]:
        first -= 1
    while last < len(frequency) - 1 and good[last + 1]:
        last += 1
    corners = float(frequency[first]), float(frequency[last])
    if corners[1] < 1.5 * max(corners[0], frequency[1]):  # No echoes to speak of: the antenna's own band.
        corners = 0.5 * nominal_mhz, 1.5 * nominal_mhz
    return BandEvidence(frequency, np.sqrt(echo), np.sqrt(noise), corners)
