"""Where a hyperbola may have its apex: peaks of the diffraction stack over a coarse set of velocities."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter

from gridmap.model import Float64
from gridmap.velocity.moveout import CurveTables, curves, scan_line
from gridmap.velocity.signal import LineSignal
from gridmap.velocity.surface import SurfaceEffect

VELOCITIES = np.array([0.05, 0.06, 0.075, 0.09, 0.105, 0.12, 0.145, 0.18, 0.24, 0.30, 0.60])
"""The last three are light in air and flatter: what fits them best is no hyperbola in the ground."""
GROUND = slice(0, 8)

_OFFSET_STEP_M = 0.01


@dataclass(frozen=True, slots=True)
class CoarseScan:
    """Tables for the coarse scan, made once a survey."""

    times_ns: Float64
    tables: CurveTables
    half_m: Float64
    interval_ns: float
    period_ns: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A likely apex: place along the line, two-way time, velocity of the coarse scan, semblance, power."""

    apex_m: float
    time_ns: float
    velocity_m_per_ns: float
    coherence: float
    power: float


def coarse_scan(
    samples: int,
    interval_ns: float,
    frequency_mhz: float,
    separation_m: float,
    effect: SurfaceEffect,
    aperture_deg: float,
    reach_m: float,
) -> CoarseScan:
    """Make the tables of the coarse scan: times from 1.25 periods, a tenth of a period apart.

    Parameters
    ----------
    samples : int
        Length of the traces.
    interval_ns, frequency_mhz, separation_m : float
        Sample interval, centre frequency, antenna separation.
    effect : SurfaceEffect
        Of this antenna.
    aperture_deg, reach_m : float
        Half aperture as an angle at the target, and its longest in metres.
    """
    period = 1e3 / frequency_mhz
    times = np.arange(1.25 * period, (samples - 2) * interval_ns, 0.11 * period)
    slow = np.minimum(VELOCITIES, 0.12)
    half = np.clip(0.5 * slow[:, None] * times * np.tan(np.radians(aperture_deg)), 0.2, reach_m)
    offsets = np.arange(0.0, reach_m + 2 * _OFFSET_STEP_M, _OFFSET_STEP_M)
    tables = CurveTables.of(*curves(VELOCITIES, times, offsets, separation_m, interval_ns, effect))
    return CoarseScan(times, tables, half, interval_ns, period)


def find_candidates(line: LineSignal, scan: CoarseScan, least_coherence: float = 0.6) -> list[Candidate]:
    """Return the likely apexes of one line, the strongest first.

    Parameters
    ----------
    line : LineSignal
        The line.
    scan : CoarseScan
        From `coarse_scan`.
    least_coherence : float
        Semblance below which a peak is left alone.

    Returns
    -------
    list of Candidate
        Peaks of semblance squared times the root of coherent power, apart by more than 0.25 m or a period.
        Left out: peaks whose best velocity is the slowest of the scan, or that of light in air or flatter.
    """
    if len(line.along_m) < 9:
        return []
    step = max(0.08, 1.5 * float(np.median(np.diff(line.along_m))))
    apexes = np.arange(line.along_m[0] + 0.15, line.along_m[-1] - 0.14, step)
    if not len(apexes) or not len(scan.times_ns):
        return []
    found = scan_line(line.values, line.along_m, line.good, apexes, scan.half_m, scan.tables, _OFFSET_STEP_M)
    best = found[..., 0].argmax(axis=0)
    coherence = np.take_along_axis(found[..., 0], best[None], 0)[0]
    power = np.take_along_axis(found[..., 1], best[None], 0)[0]
    likely = (best > 0) & (best < GROUND.stop) & (coherence >= least_coherence)
    score = np.where(likely, coherence**2 * np.sqrt(power), 0.0)
    across = 2 * max(1, round(0.25 / step)) + 1
    peak = (score > 0) & (score == maximum_filter(score, size=(across, 2 * 5 + 1)))
    where = np.argwhere(peak)
    order = np.argsort([-score[i, j] for i, j in where])
    return [
        Candidate(
            float(apexes[i]),
            float(scan.times_ns[j]),
            float(VELOCITIES[best[i, j]]),
            float(coherence[i, j]),
            float(power[i, j]),
        )
        for i, j in where[order]
    ]
