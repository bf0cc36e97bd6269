"""What the ground surface does to an echo that leaves the vertical: it comes early, and its phase turns.

Antennas ride a few centimetres above ground in which waves are about three times slower than in air. Waves
that go down steeper than the critical angle (sine = v/c) pass the gap as plain waves; flatter ones pass it as
evanescent fields, which take no time in the gap and lead in phase. The limbs of a hyperbola are so early by
some tenths of a nanosecond, and a fit that does not know it reads 6 to 10 percent fast.

No ray does justice to this, as a target two wavelengths off sees the critical angle blurred. So the field of
a line source over a half-space, electric field along the source (as in the plane walked by dipoles carried
broadside), is summed from plane waves:

    E(d, z) = i/(2 pi) Int exp(i(a h + g z + k d)) / (a + g) dk,   a^2 = (w/c)^2 - k^2,   g^2 = (w/v)^2 - k^2

(Wait, Geo-electromagnetism, 1982; Annan 1973, Geophysics 38:557 [memory]). With v = c it is the Hankel
function of a source in free space, which tests check.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gridmap.model import LIGHT_M_PER_NS, Float64

VELOCITIES_M_PER_NS = np.array([0.045, 0.06, 0.075, 0.09, 0.105, 0.12, 0.14, 0.17])
LOG_DEPTHS = np.log(0.12 * 1.32 ** np.arange(12))
ANGLES_RAD = np.radians(np.arange(0.0, 58.0, 3.0))


@dataclass(frozen=True, slots=True)
class SurfaceEffect:
    """One-way delay and phase that the surface adds to the straight path r/v.

    Attributes
    ----------
    velocity_m_per_ns : (velocity,) float64
        Velocities of the ground tabled.
    log_depth : (depth,) float64
        Natural logarithm of the depth in metres, evenly spaced.
    angle_rad : (angle,) float64
        Angle from the vertical at the target, evenly spaced from 0.
    delay_ns : (velocity, depth, angle) float64
        Group delay of a pulse over r/v, nanoseconds.
    phase_rad : (velocity, depth, angle) float64
        Phase under the envelope at each angle, less that at angle 0, radians; positive lags.
    """

    velocity_m_per_ns: Float64
    log_depth: Float64
    angle_rad: Float64
    delay_ns: Float64
    phase_rad: Float64


def straight_rays() -> SurfaceEffect:
    """Return the effect of no surface at all: straight rays in a whole space, the textbook hyperbola."""
    shape = len(VELOCITIES_M_PER_NS), len(LOG_DEPTHS), len(ANGLES_RAD)
    return SurfaceEffect(VELOCITIES_M_PER_NS, LOG_DEPTHS, ANGLES_RAD, np.zeros(shape), np.zeros(shape))


def field_below(
    frequency_mhz: float, velocity_m_per_ns: float, height_m: float, depth_m: float, offset_m: Float64
) -> NDArray[np.complex128]:
    """Field below the surface of a line source above it; time goes as exp(-i w t).

    Parameters
    ----------
    frequency_mhz : float
        Megahertz.
    velocity_m_per_ns : float
        Of the ground.
    height_m, depth_m : float
        Source above, point below the surface, metres.
    offset_m : (offset,) float64
        Horizontal distance, metres, not negative.

    Returns
    -------
    (offset,) complex128
        Scaled such that v = c gives i/4 H0(kr).

    Notes
    -----
    The path of integration leaves the real axis by a tenth or so to pass the branch points.
    """
    omega = 2e-3 * np.pi * frequency_mhz
    air, ground = omega / LIGHT_M_PER_NS, omega / velocity_m_per_ns
    s = np.linspace(0.0, ground + 9.0 / max(depth_m + height_m, 0.1), 601)
    step = s[1] - s[0]
    bend = 0.3 / max(float(offset_m.max()), 0.3)
    tanh = np.tanh(4.0 * s / air)
    k = s - 1j * bend * tanh
    along = 1.0 - 1j * bend * (1.0 - tanh**2) * 4.0 / air
    weight = np.full(s.shape, step)
    weight[1:-1:2] *= 4.0 / 3.0
    weight[2:-1:2] *= 2.0 / 3.0
    weight[[0, -1]] /= 3.0
    up, down = _upper_root(air**2 - k**2), _upper_root(ground**2 - k**2)
    spectrum = 1j / (up + down) * np.exp(1j * (up * height_m + down * depth_m)) * along * weight
    return np.asarray(np.cos(offset_m[:, None] * k) @ spectrum / np.pi)


def _upper_root(square: NDArray[np.complex128]) -> NDArray[np.complex128]:
    root = np.sqrt(square)
    return np.where(root.imag < 0, -root, root)


def surface_effect(frequency_mhz: float, height_m: float) -> SurfaceEffect:
    """Table the surface's effect for one antenna.

    Parameters
    ----------
    frequency_mhz : float
        Centre frequency, megahertz.
    height_m : float
        Of the antennas above the ground, metres.

    Returns
    -------
    SurfaceEffect
        Group delay from the phase at 0.8 and 1.2 times the centre frequency.
    """
    shape = len(VELOCITIES_M_PER_NS), len(LOG_DEPTHS), len(ANGLES_RAD)
    delay, phase = np.zeros(shape), np.zeros(shape)
    omega = 2e-3 * np.pi * frequency_mhz
    for i, v in enumerate(VELOCITIES_M_PER_NS):
        for j, z in enumerate(np.exp(LOG_DEPTHS)):
            offset = z * np.tan(ANGLES_RAD)
            low, mid, high = (
                _excess_phase(frequency_mhz * part, v, height_m, z, offset) for part in (0.8, 1.0, 1.2)
            )
            turn = 2.0 * np.pi
            low -= turn * np.round((low[0] - mid[0]) / turn)
            high -= turn * np.round((high[0] - mid[0]) / turn)
            delay[i, j] = (high - low) / (0.4 * omega)
            phase[i, j] = (mid - mid[0]) - omega * (delay[i, j] - delay[i, j, 0])
    return SurfaceEffect(VELOCITIES_M_PER_NS, LOG_DEPTHS, ANGLES_RAD, delay, phase)


def _excess_phase(frequency_mhz: float, v: float, height_m: float, z: float, offset: Float64) -> Float64:
    """Phase of the field less that of a straight wave through ground alone, (angle,) radians, unwrapped."""
    straight = 2e-3 * np.pi * frequency_mhz / v * np.hypot(z, offset)
    field = field_below(frequency_mhz, v, height_m, z, offset) * np.exp(-1j * straight)
    return np.asarray(np.unwrap(np.angle(field)))
