"""One hyperbola refined: apex by coherent power, velocity by semblance, its deviation by curvature."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from gridmap.model import Float64
from gridmap.velocity.moveout import scan_velocities, strongest_apex
from gridmap.velocity.signal import LineSignal
from gridmap.velocity.surface import SurfaceEffect

VELOCITY_GRID = np.linspace(0.042, 0.186, 97)
_ROUGH = VELOCITY_GRID[::4].copy()
_FIVE = np.linspace(-1.0, 1.0, 5)
_PARABOLA = {h: np.linalg.pinv(np.vander(np.arange(-h, h + 1.0), 3))[:2] for h in (1, 2)}
"""Rows that give a and b of the least squares parabola a x^2 + b x + c through 2 h + 1 points one apart."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What is the same for every fit of a survey.

    Attributes
    ----------
    interval_ns, frequency_mhz, separation_m : float
        Sample interval, centre frequency, antenna separation.
    effect : SurfaceEffect
        Of this antenna.
    aperture_deg : float
        Half aperture as an angle at the target.
    reach_m : float
        Longest half aperture along the line.
    radius_m : float
        Distance from a target's front to the centre of its curve.
    """

    interval_ns: float
    frequency_mhz: float
    separation_m: float
    effect: SurfaceEffect
    aperture_deg: float
    reach_m: float
    radius_m: float


@dataclass(frozen=True, slots=True)
class Fit:
    """One fitted hyperbola.

    Attributes
    ----------
    apex_m : float
        Along the line.
    time_ns : float
        Vertical two-way time in the ground to the target's front.
    velocity_m_per_ns, sd_m_per_ns : float
        From the peak of semblance and from its curvature.
    coherence, power : float
        Semblance 0 to 1, coherent power in data units squared.
    traces : int
        How many took part.
    coverage : float
        Share of the aperture that holds good traces.
    balance : float
        Coherent amplitude of the weaker limb over that of the stronger.
    inside : bool
        Whether semblance has its peak inside the velocities tried.
    """

    apex_m: float
    time_ns: float
    velocity_m_per_ns: float
    sd_m_per_ns: float
    coherence: float
    power: float
    traces: int
    coverage: float
    balance: float
    inside: bool


def refine(
    line: LineSignal, apex_m: float, time_ns: float, velocity: float, setting: Setting, squeeze: float = 1.0
) -> Fit:
    """Fit one hyperbola near a first guess.

    Parameters
    ----------
    line : LineSignal
        The line.
    apex_m, time_ns, velocity : float
        First guess; the time is that of the target's front.
    setting : Setting
        Of the survey.
    squeeze : float
        Cosine of the angle at which a linear target is crossed; 1: straight across, or a point.

    Returns
    -------
    Fit
        Semblance is that of the analytic signal (Neidell & Taner 1971, Geophysics 36:482 [memory]) after the
        surface's phase is turned back. The time is held where coherent power peaks: left free, semblance
        trades time against velocity. Deviation: second derivative of the log-likelihood
        -M log(1 - semblance), M being the independent traces, two fifths of a wavelength apart.
    """
    effect, dt = setting.effect, setting.interval_ns
    tables = (
        effect.velocity_m_per_ns,
        effect.log_depth,
        float(effect.angle_rad[1]),
        effect.delay_ns,
        effect.phase_rad,
    )
    period = 1e3 / setting.frequency_mhz
    gate = max(1, round(0.12 * period / dt))
    few, many = np.zeros((len(_ROUGH), 5)), np.zeros((len(VELOCITY_GRID), 5))
    x, front, v, half = apex_m, time_ns, min(velocity, 0.14), 0.2
    best, speeds, rough, k = many, VELOCITY_GRID, True, 0
    for turn in range(3):
        delay = 2.0 * setting.radius_m / v
        half = 0.5 * v * (front + delay) * math.tan(math.radians(setting.aperture_deg)) / squeeze
        half = min(max(half, 0.2), setting.reach_m)
        for span_ns, step_ns, span_m in ((0.33, 0.08, 0.1), (0.08, 0.016, 0.05)):
            if turn and span_ns > 0.2:
                continue
            fronts = front + period * np.arange(-span_ns, span_ns + 1e-9, step_ns)
            x, front = strongest_apex(
                line.values, line.along_m, line.good, x, front, x + span_m * _FIVE, fronts[fronts > 0.3 * period],
                -delay, v, dt, setting.separation_m, squeeze, half, *tables,
            )  # fmt: skip
        rough = turn < 2
        speeds, out = (_ROUGH, few) if rough else (VELOCITY_GRID, many)
        top, middle = -1.0, x
        for at in middle + 0.06 * _FIVE:
            scan_velocities(
                line.values, line.along_m, line.good, float(at), front + delay, -delay, speeds, dt,
                setting.separation_m, squeeze, half, *tables, gate, out,
            )  # fmt: skip
            if out[:, 0].max() > top:
                top, x, best = float(out[:, 0].max()), float(at), out.copy()
        k = int(best[:, 0].argmax())
        v = float(np.clip(_peak(speeds, best[:, 0], k, 1 if rough else 2)[0], 0.05, 0.18))
        if rough and k == len(speeds) - 1:
            break
    v, bend = _peak(speeds, best[:, 0], k, 1 if rough else 2)
    inside = not rough and 2 <= k < len(speeds) - 2 and bend < 0
    semblance, count = float(best[k, 0]), int(best[k, 2])
    independent = max(3.0, min(count, 2.0 * half / (0.4 * v * period)))
    sd = math.sqrt(max(1.0 - semblance, 1e-4) / (independent * -bend)) if bend < 0 else v
    spacing = float(np.median(np.diff(line.along_m)))
    limbs = np.sqrt(best[k, 3:5])
    return Fit(
        x, front, v, sd, semblance, float(best[k, 1]), count,
        min(1.0, count * spacing / (2.0 * half)), float(limbs.min() / max(limbs.max(), 1e-30)), inside,
    )  # fmt: skip


def _peak(speeds: Float64, semblance: Float64, k: int, half: int) -> tuple[float, float]:
    """Place of the parabola through the peak and `half` steps to each side, and its second derivative."""
    k = int(np.clip(k, half, len(semblance) - 1 - half))
    step = float(speeds[1] - speeds[0])
    near = semblance[k - half : k + half + 1]
    a, b = (float(row @ near) for row in _PARABOLA[half])
    a, b = a / step**2, b / step
    shift = float(np.clip(-b / (2 * a), -half * step, half * step)) if a < 0 else 0.0
    return float(speeds[k]) + shift, 2.0 * float(a)
