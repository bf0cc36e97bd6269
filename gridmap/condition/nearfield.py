"""The direct wave of two dipoles over ground: what the receiver gets before any echo."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.model import LIGHT_M_PER_NS, Float64

Complex128 = NDArray[np.complex128]

_PERIODS = 24
_PER_PERIOD = 80
_ZERO_AT = 0.3
_WAVENUMBERS = 1500


def direct_wave(
    frequency_mhz: float, separation_m: float, height_m: float = 0.0, permittivity: float = 9.0
) -> tuple[Float64, Float64]:
    """Field at the receiver of two parallel dipoles, side by side at one height over flat ground.

    Parameters
    ----------
    frequency_mhz : float
        Centre frequency, megahertz: the derivative of the dipole's current is a Ricker pulse of that frequency,
        which is what a receiver far away in air would record.
    separation_m : float
        Distance from transmitter to receiver, metres, above 0.
    height_m : float
        Height of both above the ground, metres; less than a tenth of the separation counts as that.
    permittivity : float
        Relative permittivity of the ground; 1: no ground. Loss hardly matters and is left out.

    Returns
    -------
    time_ns : (sample,) float64
        Time from the pulse's centre at the transmitter, 80 samples a period.
    field : (sample,) float64
        Electric field along the dipoles, in units of the far field a metre away in air.

    Notes
    -----
    In air alone E = p''/r + c p'/r^2 + c^2 p/r^3 with p at t - r/c (Jackson, 9.2 [memory]). What the ground sends
    back is the Sommerfeld integral of plane waves times their reflection at the surface, half with the TE and
    half with the TM coefficient of the electric field (Wait 1982 [memory])::

        E = 1/2 (i/w) Int k dk e^(2 i kz h) [ (w/kz) (J0 - J2)(k r) R_te + (c^2 kz/w) (J0 + J2)(k r) R_tm ]

    taken at complex frequency, so that its poles and branch points lie off the path; the damping that this means
    is undone in time (Phinney 1965 [memory]). Close to the antenna the ground takes away most of the static
    field, as an image of strength -(e - 1)/(e + 1) does.
    """
    time, fields = direct_waves(frequency_mhz, separation_m, (height_m,), permittivity)
    return time, fields[0]


def direct_waves(
    frequency_mhz: float, separation_m: float, heights_m: Sequence[float], permittivity: float
) -> tuple[Float64, Float64]:
    """Return `direct_wave` for many heights at once: time (sample,) and field (height, sample), both float64."""
    from scipy.special import j0, jn

    c, r = LIGHT_M_PER_NS, separation_m
    f_ghz = frequency_mhz * 1e-3
    periods = int(_PERIODS + 3 * f_ghz * r / c)
    span = periods / f_ghz
    samples = _PER_PERIOD * periods
    time = np.arange(samples) / (_PER_PERIOD * f_ghz)
    zero = _ZERO_AT * span
    damping = 4.0 / span
    omega = 2 * np.pi * np.arange(4 * periods) / span + 1j * damping
    a = (np.pi * f_ghz * (time - zero)) ** 2
    ricker = (1 - 2 * a) * np.exp(-a)
    pulse = np.conj(np.fft.rfft(ricker * np.exp(-damping * time)))[: len(omega)]
    k0 = omega / c
    air = (1 / r + 1j * c / (omega * r**2) - c**2 / (omega**2 * r**3)) * np.exp(1j * k0 * r)

    heights = [max(float(h), 0.1 * r) for h in heights_m]
    top = max(14 / (2 * min(heights)), 40 / r)
    k = (np.arange(_WAVENUMBERS) + 0.5) * (top / _WAVENUMBERS)
    kz = _downward(k0[:, None] ** 2 - k**2)
    kg = _downward(permittivity * k0[:, None] ** 2 - k**2)
    te = (kz - kg) / (kz + kg)
    tm = (kg / permittivity - kz) / (kg / permittivity + kz)
    w = omega[:, None]
    bessel0, bessel2 = j0(k * r), jn(2, k * r)
    waves = (w / kz) * (bessel0 - bessel2) * te + (c**2 * kz / w) * (bessel0 + bessel2) * tm
    spectrum = np.zeros((len(heights), samples // 2 + 1), complex)
    for i, h in enumerate(heights):
        back = (waves * np.exp(2j * kz * h)) @ k * (top / _WAVENUMBERS) / 2
        spectrum[i, : len(omega)] = np.conj((air + 1j / omega * back) * pulse)
    return time - zero, np.fft.irfft(spectrum, samples) * np.exp(damping * time)


def _downward(squared: NDArray[np.complexfloating[Any, Any]]) -> Complex128:
    """Root whose imaginary part is not negative: the wave that dies out away from its source."""
    root = np.sqrt(squared)
    return np.asarray(np.where(root.imag < 0, -root, root), dtype=np.complex128)
