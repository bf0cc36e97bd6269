"""Focusing: which velocity gathers the echoes of the whole survey best, in windows of time and by area.

Every line is summed along diffraction curves of a range of velocities, the surface's early limbs and turned phase
undone (`gridmap.velocity.surface`). Where the sum is strongest the coherence of all velocities is stacked, each
spot as it is: nothing is fitted and none is refused. Neighbouring lines show how a pipe runs, which takes out that
one crossed at an angle focuses too fast.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter

from gridmap.model import Bool, CleanLine, Float64, Int64
from gridmap.site.records import Antenna
from gridmap.velocity.moveout import CurveTables, curves, scan_line
from gridmap.velocity.signal import LineSignal, choose_lines, prepare_line
from gridmap.velocity.surface import SurfaceEffect, surface_effect

VELOCITIES = np.geomspace(0.05, 0.18, 27)
LEAST_SD = 0.04
"""Relative deviation that a focus keeps however well its lines agree: spots are not alike, angles are guessed."""

LEAST_COHERENCE = 0.75
"""Mean coherence of the spots, by weight, below which nothing focuses; white noise has 0.65."""

_FLAT = 0.6
_OFFSET_STEP_M = 0.01
_ANGLES = np.radians(np.arange(-60.0, 61.0, 5.0))
_SPOTS_A_LINE = 60


@dataclass(frozen=True, slots=True)
class FocusWindow:
    """One window of time and area.

    Attributes
    ----------
    where : str
        "whole", or which half: "low x", "high x", "low y", "high y".
    first_ns, last_ns : float
        Span of two-way time.
    curve : (velocity,) float64
        Focus at each of `VELOCITIES`, over its largest value.
    velocity_m_per_ns, sd_m_per_ns : float
        RMS velocity of best focus and one deviation (lines left out in turn); NaN where no peak stands inside.
    spots : int
        How many spots were stacked.
    time_ns : float
        Their middle two-way time.
    """

    where: str
    first_ns: float
    last_ns: float
    curve: Float64
    velocity_m_per_ns: float
    sd_m_per_ns: float
    spots: int
    time_ns: float = float("nan")


@dataclass(frozen=True, slots=True)
class _Image:
    """One line: positions of its apexes and, over (apex, time), how strongly something focuses there."""

    xy_m: Float64
    direction: Float64
    strength: Float64
    coherence: Float64


@dataclass(frozen=True, slots=True)
class _Stack:
    """Spots as arrays: (spot,) line, time, best coherence, weight; (spot, velocity) sharpened spectra."""

    line: Int64
    time_ns: Float64
    coherence: Float64
    weight: Float64
    sharp: Float64

    def of(self, keep: Bool) -> _Stack:
        """Return some of them."""
        return _Stack(
            self.line[keep], self.time_ns[keep], self.coherence[keep], self.weight[keep], self.sharp[keep]
        )


def focusing_scan(
    lines: Sequence[CleanLine],
    interval_ns: float,
    antenna: Antenna,
    effect: SurfaceEffect | None = None,
    *,
    windows: int = 3,
    most_lines: int = 12,
    aperture_deg: float = 40.0,
) -> tuple[FocusWindow, ...]:
    """Find the velocity of best focus in windows of time and by halves of the area.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned lines.
    interval_ns : float
        Sample interval, nanoseconds.
    antenna : Antenna
        Frequency, separation and height.
    effect : SurfaceEffect or None
        What the surface does to travel times; None: of this antenna.
    windows : int
        Windows of time, evenly wide in its logarithm, from one and a half periods to where the record ends.
    most_lines : int
        More lines are thinned evenly; fewer are used where they are long, about 120 m in all.
    aperture_deg : float
        Half aperture at the target.

    Returns
    -------
    tuple of FocusWindow
        For the whole area the whole span of time first, then each window; then the halves over the whole span.
        Empty without lines long enough.

    Notes
    -----
    Stack of semblance spectra (Neidell & Taner 1971) at the spots where an image focuses, flat reflectors left out.
    """
    period = 1e3 / antenna.frequency_mhz
    effect = surface_effect(antenna.frequency_mhz, antenna.height_m) if effect is None else effect
    reach = min(0.8 * period, 3.0)
    length = float(np.median([ln.along_m[-1] - ln.along_m[0] for ln in lines])) if lines else 0.0
    most = int(np.clip(120.0 / max(length, 1.0), 4, most_lines))
    signals = [prepare_line(i, lines[i], 0.008 * period) for i in choose_lines(len(lines), most)]
    signals = [s for s in signals if len(s.along_m) >= 9 and np.ptp(s.along_m) > 1.0]
    if len(signals) < 2:
        return ()
    last = min((signals[0].values.shape[1] - 2) * interval_ns, 30.0 * period)
    times = np.arange(1.5 * period, 0.9 * last, 0.15 * period)
    if len(times) < 6:
        return ()
    speeds = np.append(VELOCITIES, _FLAT)
    tangent = np.tan(np.radians(aperture_deg))
    half = np.clip(0.5 * np.minimum(speeds, 0.12)[:, None] * times * tangent, 0.2, reach)
    offsets = np.arange(0.0, reach + 2 * _OFFSET_STEP_M, _OFFSET_STEP_M)
    tables = CurveTables.of(*curves(speeds, times, offsets, antenna.separation_m, interval_ns, effect))
    images = [_image(s, half, tables, step_m=max(0.025 * period, 0.03)) for s in signals]
    spots = [spot for k in range(len(images)) for spot in _spots(k, images)]
    if not spots:
        return ()
    line = np.array([s[0] for s in spots])
    xy = np.array([s[1] for s in spots])
    time = times[np.array([s[2] for s in spots])]
    strength = np.array([s[4] for s in spots])
    # Strong spots count fully, speckle hardly.
    weight = np.minimum(strength / np.percentile(strength, 95), 1.0)
    plain = np.array([s[3] for s in spots])
    table = _Stack(line, time, plain.max(axis=1), weight, plain**6 * weight[:, None])
    middle = np.median(np.concatenate([im.xy_m for im in images]), axis=0)
    areas = {
        "low x": xy[:, 0] < middle[0],
        "high x": xy[:, 0] >= middle[0],
        "low y": xy[:, 1] < middle[1],
        "high y": xy[:, 1] >= middle[1],
    }
    edges = np.geomspace(times[0], times[-1] + 1e-6, windows + 1)
    ends = float(edges[0]), float(edges[-1])
    out = [_window("whole", ends, table)]
    for first, last in itertools.pairwise(edges):
        keep = (time >= first) & (time < last)
        out.append(_window("whole", (float(first), float(last)), table.of(keep)))
    return (
        *out,
        *(_window(where, ends, table.of(keep)) for where, keep in areas.items()),
    )


def _image(signal: LineSignal, half: Float64, tables: CurveTables, *, step_m: float) -> _Image:
    apexes = np.arange(signal.along_m[0] + 0.2, signal.along_m[-1] - 0.2, step_m)
    found = scan_line(signal.values, signal.along_m, signal.good, apexes, half, tables, _OFFSET_STEP_M)
    coherence, power = found[:-1, ..., 0].astype(float), found[:-1, ..., 1]
    best, top = coherence.argmax(axis=0), coherence.max(axis=0)
    focused = (found[-1, ..., 0] < 0.75 * top) & (best > 0) & (best < len(VELOCITIES) - 1) & (top > 0.6)
    strength = np.where(focused, top**2 * np.sqrt(power.max(axis=0)), 0.0)
    xy = np.stack([np.interp(apexes, signal.along_m, signal.xy_m[:, k]) for k in range(2)], axis=1)
    ends = xy[-1] - xy[0]
    return _Image(xy, ends / np.hypot(*ends), strength, coherence)


def _spots(k: int, images: list[_Image]) -> list[tuple[int, Float64, int, Float64, float]]:
    """Spots of one line: line, place, index of time, semblance over `VELOCITIES` with the angle out, strength."""
    own = images[k]
    peak = (own.strength > 0) & (own.strength == maximum_filter(own.strength, size=(9, 9)))
    where = np.argwhere(peak)
    order = np.argsort([-own.strength[i, j] for i, j in where])[:_SPOTS_A_LINE]
    log_v = np.log(VELOCITIES)
    out = []
    for i, j in where[order]:
        angle = _angle(k, int(i), int(j), images)
        spectrum = np.interp(log_v - np.log(np.cos(angle)), log_v, own.coherence[:, i, j])
        out.append((k, own.xy_m[i], int(j), spectrum, float(own.strength[i, j])))
    return out


def _angle(k: int, i: int, j: int, images: list[_Image]) -> float:
    """Angle from the perpendicular at which neighbouring lines carry on the spot, radians, 0 where none do."""
    own = images[k]
    at, u = own.xy_m[i], own.direction
    normal = np.array([-u[1], u[0]])
    near = []
    for other in (im for n, im in enumerate(images) if n != k and abs(im.direction @ u) > 0.97):
        off = other.xy_m - at
        near.append((float(np.median(off @ normal)), off @ u, other))
    near = sorted((n for n in near if abs(n[0]) > 0.05), key=lambda n: abs(n[0]))[:4]
    if not near:
        return 0.0
    score = np.zeros(len(_ANGLES))
    for across, along, other in near:
        order = np.argsort(along)
        band = other.strength[:, max(0, j - 2) : j + 3].max(axis=1)
        value = np.interp(across * np.tan(_ANGLES), along[order], band[order], left=0.0, right=0.0)
        score += np.minimum(value / own.strength[i, j], 1.0) / len(near)
    best = int(np.argmax(score))
    return float(_ANGLES[best]) if score[best] > 0.35 else 0.0


def _window(where: str, span: tuple[float, float], spots: _Stack) -> FocusWindow:
    """Peak of the stack of sharpened spectra; its deviation from leaving lines out in turn."""
    count = len(spots.line)
    if count < 4:
        return FocusWindow(where, *span, np.ones(len(VELOCITIES)), np.nan, np.nan, count)
    curve = spots.sharp.sum(axis=0)
    coherent = float(np.average(spots.coherence, weights=spots.weight)) >= LEAST_COHERENCE
    best = _peak(curve) if coherent and _clear(curve) else float("nan")
    groups = np.array_split(np.unique(spots.line), min(len(np.unique(spots.line)), 8))
    without = [_peak(spots.sharp[~np.isin(spots.line, group)].sum(axis=0)) for group in groups]
    usable = np.log([v for v in without if np.isfinite(v)])
    sd = float("nan")
    if np.isfinite(best) and len(usable) >= 3:
        n = len(usable)
        spread = np.sqrt((n - 1) / n * ((usable - usable.mean()) ** 2).sum())
        sd = best * float(np.hypot(spread, LEAST_SD))
    return FocusWindow(where, *span, curve / curve.max(), best, sd, count, float(np.median(spots.time_ns)))


def _clear(curve: Float64) -> bool:
    """Say whether the curve falls to half its height on both sides: a slope that ends at an end is no focus."""
    k = int(np.argmax(curve))
    return bool(max(curve[: k + 1].min(), curve[k:].min()) < 0.5 * curve[k])


def _peak(curve: Float64) -> float:
    """Velocity of the highest point by a parabola in the logarithm; NaN at the end of the range."""
    k = int(np.argmax(curve))
    if not 1 <= k < len(curve) - 1:
        return float("nan")
    left, top, right = curve[k - 1 : k + 2]
    shift = 0.5 * (left - right) / (left - 2 * top + right)
    step = np.log(VELOCITIES[1] / VELOCITIES[0])
    return float(VELOCITIES[k] * np.exp(shift * step))
