"""The antenna's pulse, and from spikes to traces."""

from __future__ import annotations

import numpy as np
import scipy.fft

from benchmarks.simulate import echoes
from benchmarks.simulate.ground import LIGHT_M_PER_NS
from benchmarks.simulate.objects import Scene

OVERSAMPLING = 4
GROUND_WAVE_SHARE = 0.25


def ricker_spectrum(frequency_ghz: np.ndarray, centre_ghz: float) -> np.ndarray:
    """Spectrum (amplitude x ns) of the zero-phase pulse (1 - 2a) exp(-a), a = (pi f0 t)^2, of unit peak."""
    ratio = frequency_ghz / centre_ghz
    return 2 / np.sqrt(np.pi) / centre_ghz * ratio**2 * np.exp(-(ratio**2))


def direct_spectrum(
    frequency_ghz: np.ndarray,
    centre_ghz: float,
    separation_m: float,
    ground_m_per_ns: float,
    ground_share: float,
) -> np.ndarray:
    """Spectrum (amplitude x ns) of the wave straight from transmitter to receiver, scaled to a peak of 1.

    Through the air: the broadside field of a short dipole, with its near terms, far (1 + 1/x + 1/x^2), x = i
    omega r / c (Hertzian dipole, any textbook). Along the ground: a far wave of `ground_share` of the air's
    far wave.
    """
    pulse = ricker_spectrum(frequency_ghz, centre_ghz)
    omega = 2 * np.pi * frequency_ghz
    x = 1j * omega * separation_m / LIGHT_M_PER_NS
    with np.errstate(divide="ignore", invalid="ignore"):
        field = pulse * (1 + 1 / x + 1 / x**2)
    field[0] = -2 / np.sqrt(np.pi) / centre_ghz**3 / (2 * np.pi * separation_m / LIGHT_M_PER_NS) ** 2
    field = field * np.exp(-x) + ground_share * pulse * np.exp(-1j * omega * separation_m / ground_m_per_ns)
    fine = 8 * (len(field) - 1)
    peak = np.abs(np.fft.irfft(field, fine)).max() * fine * frequency_ghz[1]
    return field / peak


def spikes_to_traces(
    plain: np.ndarray,
    surface: np.ndarray | None,
    samples: int,
    interval_ns: float,
    centre_ghz: float,
    direct: tuple[np.ndarray, float, float, float, float] | None = None,
) -> np.ndarray:
    """Give each spike the pulse, and each surface spike the pulse's derivative (per ns).

    Parameters
    ----------
    plain, surface : (trace, fine sample)
        Spikes on an axis `interval_ns / OVERSAMPLING` apart; `surface` may be None.
    samples, interval_ns
        Of the traces wanted.
    direct : (time zero of each trace, amplitude, separation, ground velocity, ground share) or None
        The wave straight to the receiver.

    Returns
    -------
    (trace, sample) float64
    """
    length = scipy.fft.next_fast_len(samples + int(6 / centre_ghz / interval_ns), real=True)
    length += length % 2
    fine = length * OVERSAMPLING
    frequency = np.arange(length // 2 + 1) / (length * interval_ns)
    shape = ricker_spectrum(frequency, centre_ghz) / interval_ns
    # The pulse holds next to nothing above the coarse Nyquist, so the fine spectrum is cut there rather than
    # folded.
    spectrum = scipy.fft.rfft(plain, fine, axis=1)[:, : length // 2 + 1] * shape
    if surface is not None:
        slope = shape * (2j * np.pi * frequency)
        spectrum += scipy.fft.rfft(surface, fine, axis=1)[:, : length // 2 + 1] * slope
    if direct is not None:
        time_zero, amplitude, separation, velocity, share = direct
        wave = direct_spectrum(frequency, centre_ghz, separation, velocity, share) * amplitude / interval_ns
        spectrum += wave * np.exp(-2j * np.pi * np.outer(time_zero, frequency))
    return scipy.fft.irfft(spectrum, length, axis=1)[:, :samples]


def clean_line(
    scene: Scene,
    mid_m: np.ndarray,
    heading: np.ndarray,
    *,
    separation_m: float,
    centre_mhz: float,
    samples: int,
    interval_ns: float,
    time_zero_ns: np.ndarray | float = 0.0,
    source: float = 1.0,
    direct: float = 0.0,
    aperture_m: float = 3.0,
    stone_aperture_m: float = 1.5,
) -> np.ndarray:
    """Simulate one line without faults.

    Parameters
    ----------
    scene : Scene
        What echoes.
    mid_m : (trace, 2)
        Antenna mid-points, local grid, metres.
    heading : (2,)
        Unit vector of the walking direction; transmitter behind, receiver ahead, dipoles across.
    time_zero_ns : (trace,) or float
        Time in the record at which the pulse's centre leaves the transmitter.
    source : float
        Scale of all echoes.
    direct : float
        Peak amplitude of the wave straight from transmitter to receiver.

    Returns
    -------
    (trace, sample) float64
    """
    heading = np.asarray(heading, float)
    src, rec = mid_m - heading * separation_m / 2, mid_m + heading * separation_m / 2
    shift = np.ascontiguousarray(np.broadcast_to(np.asarray(time_zero_ns, float), len(mid_m)))
    fine = interval_ns / OVERSAMPLING
    plain = np.zeros((len(mid_m), samples * OVERSAMPLING))
    dipole = np.array([-heading[1], heading[0]])
    for pipe in scene.pipes:
        echoes.add_pipe(plain, shift, fine, src, rec, pipe, scene, dipole)
    for interface in scene.interfaces:
        echoes.add_interface(plain, shift, fine, src, rec, interface, scene)
    echoes.add_points(plain, shift, fine, src, rec, scene.stones, scene, stone_aperture_m)
    surface = None
    if len(scene.surfaces.strength):
        surface = np.zeros_like(plain)
        echoes.add_points(surface, shift, fine, src, rec, scene.surfaces, scene, aperture_m)
    for post in scene.posts:
        echoes.add_post(plain, shift, fine, src, rec, post)
    plain *= source
    if surface is not None:
        surface *= source
    wave = None
    if direct:
        wave = (shift, direct, separation_m, scene.ground.layers[0].velocity_m_per_ns, GROUND_WAVE_SHARE)
    return spikes_to_traces(plain, surface, samples, interval_ns, centre_mhz * 1e-3, wave)
