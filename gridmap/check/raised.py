"""Antenna lifted or tilted: its direct wave comes later, larger and in another shape, and the ground takes less."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.setup import Setup
from gridmap.check.stretch import lost_severity, runs, stretch
from gridmap.check.wave import Wave
from gridmap.condition.lifted import Lift, measure_lift
from gridmap.model import Bool, Float32, Float64

_SEED, _GROW = 0.12, 0.04
"""Misfit in shape, RMS over RMS, at which a direct wave is another one, and down to which the flanks reach."""
_OVER_USUAL = 6.0
"""And this many times the line's usual misfit: ground that changes along the line changes the wave too."""
_LEAST_RISE_M = 0.02
"""Less than this is grass and gravel."""
_EXPLAINED = 0.6
"""Share of the misfit that a height must leave unexplained at most, to be called one."""


def off_ground(wave: Wave, dead: Bool) -> Bool:
    """Say which traces have another direct wave than the line, (trace,) bool."""
    misfit = np.where(dead, 0.0, wave.misfit)
    usual = float(np.median(misfit[~dead])) if (~dead).any() else 0.0
    seed = misfit > max(_SEED, _OVER_USUAL * usual)
    out = np.zeros(len(misfit), bool)
    for a, b in runs(misfit > max(_GROW, 3.0 * usual), join=1):
        if seed[a : b + 1].any():
            out[a : b + 1] = True
    return out


def find_raised(
    line: str,
    swept: Float32,
    wave: Wave,
    raised: Bool,
    along_m: Float64,
    sample_interval_ns: float,
    setup: Setup,
) -> list[Finding]:
    """Make findings of the stretches of `off_ground`, with the height where the direct wave tells it.

    Parameters
    ----------
    line : str
        Name of the line.
    swept : (trace, sample) float32
        Dewowed amplitude.
    wave : Wave
        From `gridmap.check.wave.measure_wave`.
    raised : (trace,) bool
        From `off_ground`.
    along_m : (trace,) float64
        Distance along the line, metres.
    sample_interval_ns : float
        Nanoseconds.
    setup : Setup
        The antenna, and for the severity.

    Returns
    -------
    list of Finding
        Kind "lifted". Heights by `gridmap.condition.lifted.measure_lift`, good to some 4 cm.
    """
    spans = runs(raised)
    if not spans:
        return []
    lift = None
    at = np.flatnonzero(raised)
    if setup.separation_m > 0 and (~raised).sum() > 4:
        lift = measure_lift(
            swept[at],
            wave.usual_trace,
            wave.early,
            sample_interval_ns,
            setup.frequency_mhz,
            setup.separation_m,
            setup.height_m,
        )
    found = []
    for a, b in spans:
        length = float(along_m[b] - along_m[a])
        severity: Severity = lost_severity(length, setup)
        off = float(wave.misfit[a : b + 1].max())
        figures = [
            Figure("shape off by", 100 * off, "%"),
            Figure("direct wave late by", float(np.median(wave.lag_ns[a : b + 1])), "ns"),
        ]
        rise = _rise(lift, (at >= a) & (at <= b), wave.misfit[at])
        if rise is not None:
            figures.append(Figure("height over usual", rise, "m"))
            words = (
                f"about {100 * rise:.0f} cm off the ground: a later, larger direct wave, and less goes down"
            )
        else:
            words = f"direct wave of another shape ({100 * off:.0f} %): antenna lifted or tilted, or metal right below"
        todo = (
            "Walk this stretch again with the antenna on the ground; leave a gap at what cannot be crossed."
        )
        found.append(stretch(line, "lifted", severity, (a, b), along_m, tuple(figures), words, todo))
    return found


def _rise(lift: Lift | None, mine: Bool, misfit: Float64) -> float | None:
    """Height of a stretch where heights explain its direct waves; None where not."""
    if lift is None or not mine.any():
        return None
    explained = float(np.median(lift.misfit[mine])) < _EXPLAINED * float(np.median(misfit[mine])) + 0.05
    rise = float(np.percentile(lift.rise_m[mine], 75))
    return rise if explained and rise >= _LEAST_RISE_M else None
