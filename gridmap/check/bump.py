"""Bumps and radio interference: bursts that fill all times of a few traces."""

from __future__ import annotations

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.rough import Rough
from gridmap.check.setup import Setup
from gridmap.check.stretch import lost_severity, runs, stretch
from gridmap.check.wave import Wave
from gridmap.model import Bool, Float64

_SEED, _GROW = 6.5, 2.5
"""Combined deviations at which a burst is one, and down to which its flanks reach: in 160 000 good traces of simulated
surveys the largest is 5.2, and the chance of normal noise to pass the seed is one in 10^10."""
_LEAST_SD_ALONG, _LEAST_SD_QUICK = 0.2, 0.12
"""Logarithms scatter by at least this much from trace to trace: clutter moves the one, few samples the other."""
_QUIETER = 0.6
"""For long bursts the quieter three fifths of a line say what is usual: they may fill the rest."""
_LOUD = 2.5
"""And they are this many times as rough as the quieter part."""
_BUMP_M = 1.5
"""A stretch up to this long is a bump; a longer one, or many of them, is interference from elsewhere."""
_MANY = 6


def burst_score(rough: Rough, part: float = 1.0) -> Float64:
    """Combine both roughnesses: robust deviations of their logarithms, summed and over the square root of two."""
    parts = [_deviations(rough.along, _LEAST_SD_ALONG), _deviations(rough.quick, _LEAST_SD_QUICK, part)]
    return np.asarray((parts[0] + parts[1]) / np.sqrt(2.0))


def find_bursts(
    line: str, rough: Rough, wave: Wave, along_m: Float64, out: Bool, setup: Setup
) -> list[Finding]:
    """Find runs of traces that are rough at all times.

    Parameters
    ----------
    line : str
        Name of the line.
    rough : Rough
        From `gridmap.check.rough.measure_rough`.
    wave : Wave
        From `gridmap.check.wave.measure_wave`: a bump often moves the direct wave too.
    along_m : (trace,) float64
        Distance along the line, metres.
    out : (trace,) bool
        Traces that are dead or lifted, and their neighbours: not looked at.
    setup : Setup
        For the severity.

    Returns
    -------
    list of Finding
        Kind "bump" for short stretches, "burst" where they are long or many.
    """
    score = np.where(out, 0.0, burst_score(rough))
    spans = [(a, b) for a, b in runs(score > _GROW, join=1) if score[a : b + 1].max() > _SEED]
    step_m = float(along_m[-1]) / max(1, len(along_m) - 1)
    if not any((b - a + 1) * step_m > _BUMP_M for a, b in spans):
        low = np.where(out, 0.0, burst_score(rough, _QUIETER))
        quiet = float(np.quantile(rough.quick, 0.5 * _QUIETER))
        wide = [
            (a, b)
            for a, b in runs((low > _SEED) & (rough.quick > _LOUD * quiet), join=3)
            if (b - a + 1) * step_m > _BUMP_M and b - a + 1 < (1.0 - _QUIETER) * 1.25 * len(low)
        ]
        spans = wide + [(a, b) for a, b in spans if not any(a <= d and b >= c for c, d in wide)]
    if not spans:
        return []
    long = [(b - a + 1) * step_m > _BUMP_M for a, b in spans]
    found = []
    for (a, b), is_long in zip(spans, long, strict=True):
        times = float(np.max(rough.along[a : b + 1]))
        late = float(np.median(wave.lag_ns[a : b + 1]))
        moved = abs(late) > 0.05 * setup.period_ns
        figures = (Figure("roughness over usual", times), Figure("direct wave late by", late, "ns"))
        if is_long or len(spans) > _MANY:
            words = f"noise at all times, up to {times:.1f} times the usual: interference from nearby"
            todo = "Switch off telephones and radios nearby and walk it again."
            kind, severity = "burst", lost_severity((b - a + 1) * step_m, setup)
        else:
            shift = f"; the direct wave comes {late:+.2f} ns late" if moved else ""
            words = f"noise at all times, up to {times:.1f} times the usual{shift}"
            todo = "Look for a stone or a kerb on the way; walk it again where the target may lie right here."
            kind, severity = "bump", "attention" if b - a > 1 or moved else "note"
        found.append(stretch(line, kind, severity, (a, b), along_m, figures, words, todo))
    return found


def _deviations(ratio: Float64, least: float, part: float = 1.0) -> Float64:
    """Robust deviations of logarithms, by the median and its absolute deviation over the lower part of the traces."""
    size = np.log(np.maximum(ratio, 1e-3))
    lower = np.sort(size)[: max(3, round(part * len(size)))]
    middle = float(np.median(lower))
    spread = 1.4826 * float(np.median(np.abs(lower - middle)))
    return np.asarray((size - middle) / max(spread, least))
