"""How far from its true depth an ideal echo peaks in the volume, by sending a known one through the same chain.

Gain that grows with time leans on the later half of the pulse; the air gap delays what goes straight down; the
limbs of a hyperbola come early (`gridmap.velocity.surface`); and the sum over an aperture that is cut off blurs
to one side. Each is a centimetre or so. Rather than a formula for each, a pulse of the antenna's frequency is
laid at known depths, gained, migrated by the very functions that migrate the survey, and its peak is read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import fft

from gridmap.image.envelope import envelope
from gridmap.image.merge import merge_by_coverage
from gridmap.image.migrate import envelope_in_place, migrate_2d, migrate_3d, plan_2d
from gridmap.model import CleanLine, Float32, Float64, Grid, VelocityModel
from gridmap.site.records import Antenna
from gridmap.velocity.surface import SurfaceEffect, surface_effect

Target = Literal["line", "area", "point"]


@dataclass(frozen=True, slots=True)
class PeakShift:
    """Shift of the peak with depth.

    Attributes
    ----------
    peak_m : (depth,) float64
        Depths at which a mirror's or a thin rod's echo would peak if nothing shifted it, increasing, metres.
    line_m, area_m : (depth,) float64
        How much deeper than that a thin rod and a plane mirror do peak, metres.
    """

    peak_m: Float64
    line_m: Float64
    area_m: Float64

    def late_m(self, depth_m: Float64 | float, target: Target) -> Float64:
        """Shift of a peak seen at `depth_m`, metres; held constant beyond the table."""
        shift = {"line": self.line_m, "area": self.area_m, "point": self.line_m}[target]
        return np.asarray(np.interp(depth_m, self.peak_m + shift, shift))


def measure_peak_shift(
    mode: Literal["3d", "2d", "none"],
    velocity: VelocityModel,
    antenna: Antenna,
    gain: Float32,
    interval_ns: float,
    depth_m: Float64,
    cell_m: float,
    line_m: float,
    count: int = 6,
) -> PeakShift:
    """Send a rod and a mirror through gain and migration at several depths.

    Parameters
    ----------
    mode : "3d", "2d" or "none"
        How the survey is imaged.
    velocity : VelocityModel
        That images it.
    antenna : Antenna
        Frequency, separation and height.
    gain : (sample,) float32
        Factor that each sample of the survey was multiplied with.
    interval_ns : float
        Sample interval, nanoseconds.
    depth_m : (depth,) float64
        Depths of the volume, evenly spaced, metres.
    cell_m, line_m : float
        Cell side and distance between lines, metres.
    count : int
        Depths tried, from 0.6 wavelengths to three quarters of the volume's depth.

    Returns
    -------
    PeakShift
        In two dimensions: the rod lies across the lines. A Ricker pulse stands for the echo.
    """
    period = 1e3 / antenna.frequency_mhz
    line_m = line_m if np.isfinite(line_m) and line_m > 0 else 1.0
    wave_m = velocity.mean_m_per_ns() * period
    places = np.geomspace(0.6 * wave_m, max(0.75 * float(depth_m[-1]), 0.7 * wave_m), count)
    effect = surface_effect(antenna.frequency_mhz, antenna.height_m)
    half = min(1.0 * float(places[-1]) + 4 * cell_m, 1.5)
    along = cell_m * np.arange(-round(half / cell_m), round(half / cell_m) + 1)
    spread = line_m * np.arange(-int(min(1.2, half) / line_m), int(min(1.2, half) / line_m) + 1)
    across = spread if mode == "3d" else np.zeros(1)
    found = np.zeros((2, count))
    for i, place in enumerate(places):
        fine = np.linspace(max(0.0, place - 1.2 * wave_m), place + 1.2 * wave_m, 72)
        for k in range(2):
            distance = np.abs(along) if k == 0 else np.zeros_like(along)
            traces = _echoes(float(place), distance, velocity, antenna, effect, len(gain), interval_ns) * gain
            lines = [
                CleanLine(
                    "known pulse",
                    np.stack([along, np.full(len(along), y)], axis=1),
                    along - along[0],
                    traces.astype(np.float32),
                    np.ones(len(along), bool),
                    0.0,
                )
                for y in across
            ]
            strength = _strength(mode, lines, velocity, antenna, interval_ns, fine, cell_m, line_m)
            near = np.abs(fine - place) <= 0.4 * wave_m
            found[k, i] = _peak(fine[near], strength[near]) - place
    return PeakShift(places, found[0], found[1])


def _strength(
    mode: Literal["3d", "2d", "none"],
    lines: list[CleanLine],
    velocity: VelocityModel,
    antenna: Antenna,
    interval_ns: float,
    depth_m: Float64,
    cell_m: float,
    line_m: float,
) -> Float32:
    """Envelope of the image against depth, (depth,), below the middle of the middle line."""
    if mode == "none":
        middle = envelope(lines[0].traces[len(lines[0].traces) // 2][None])[0]
        at = velocity.two_way_ns(depth_m) / interval_ns
        return np.asarray(np.interp(at, np.arange(len(middle)), middle), dtype=np.float32)
    plan = plan_2d(lines[:1], interval_ns, antenna.separation_m, velocity, depth_m, cell_m)
    alone = envelope(migrate_2d(lines[:1], plan)[0])
    if mode == "2d":
        return np.asarray(alone[len(alone) // 2])
    x, y = lines[0].xy_m[:, 0], [float(ln.xy_m[0, 1]) for ln in lines]
    grid = Grid(float(x[0]), y[0], cell_m, round((y[-1] - y[0]) / cell_m) + 1, len(x))
    image, coverage = migrate_3d(lines, interval_ns, antenna.separation_m, velocity, grid, depth_m)
    row = round(-y[0] / cell_m)
    middle = image[:, row : row + 1, : len(alone)].copy()
    envelope_in_place(middle)
    merge_by_coverage(middle, coverage[:, row : row + 1, : len(alone)], alone.T[:, None])
    return np.asarray(middle[:, 0, len(x) // 2])


def _peak(depth_m: Float64, strength: Float32) -> float:
    k = int(np.clip(np.argmax(strength), 1, len(strength) - 2))
    left, top, right = (float(s) for s in strength[k - 1 : k + 2])
    bend = left - 2 * top + right
    share = float(np.clip(0.5 * (left - right) / bend, -1, 1)) if bend < 0 else 0.0
    return float(depth_m[k] + share * (depth_m[1] - depth_m[0]))


def _echoes(
    place_m: float,
    distance_m: Float64,
    velocity: VelocityModel,
    antenna: Antenna,
    effect: SurfaceEffect,
    samples: int,
    interval_ns: float,
) -> Float32:
    """Ricker echoes (trace, sample) of a rod or mirror at `place_m`, at horizontal distances from its middle."""
    v = float(velocity.rms_m_per_ns(place_m))
    z = 0.5 * float(velocity.two_way_ns(place_m)) * v
    late, turn = _surface(effect, v, z)
    time, phase = np.zeros(len(distance_m)), np.zeros(len(distance_m))
    for side in (-0.5, 0.5):
        off = np.abs(distance_m + side * antenna.separation_m)
        angle = np.arctan(off / z)
        time += np.hypot(z, off) / v + np.interp(angle, effect.angle_rad, late)
        phase += np.interp(angle, effect.angle_rad, turn)
    length = int(fft.next_fast_len(samples + round(6e3 / antenna.frequency_mhz / interval_ns), real=True))
    ghz = fft.rfftfreq(length, interval_ns)
    ratio = ghz / (1e-3 * antenna.frequency_mhz)
    pulse = ratio**2 * np.exp(-(ratio**2))
    spectrum = pulse * np.exp(-1j * (2 * np.pi * ghz * time[:, None] + phase[:, None]))
    return np.asarray(fft.irfft(spectrum, length, axis=1)[:, :samples], dtype=np.float32)


def _surface(effect: SurfaceEffect, v: float, z: float) -> tuple[Float64, Float64]:
    """One-way delay and phase over angle at the velocity and depth tabled nearest."""
    i = int(np.abs(effect.velocity_m_per_ns - v).argmin())
    j = int(np.abs(effect.log_depth - np.log(max(z, 1e-3))).argmin())
    return effect.delay_ns[i, j], effect.phase_rad[i, j]
