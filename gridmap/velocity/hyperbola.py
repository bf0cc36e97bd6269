"""Velocity from the hyperbolas in the data, one by one, each accepted or refused with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gridmap.model import Bool, CleanLine, Float64
from gridmap.site.records import Antenna
from gridmap.threads import each
from gridmap.velocity.candidates import Candidate, coarse_scan, find_candidates
from gridmap.velocity.oblique import match_crossings, match_pairs
from gridmap.velocity.refine import Fit, Setting, refine
from gridmap.velocity.signal import LineSignal, choose_lines, prepare_line
from gridmap.velocity.surface import SurfaceEffect, surface_effect

RADIUS_M, POINT_RADIUS_M, RADIUS_SD_M = 0.04, 0.02, 0.03
"""Front to centre of an unknown target, and its deviation (this project's choice).

Services are mostly 25 to 200 mm across and echo from their front; stones and the like are weak and small
against the wavelength, so that their echo comes from nearer to their middle."""
TIME_ZERO_SD_NS = 0.15
"""How well time zero is known: one line's pick against the near field of the antenna."""

LEAST_COHERENCE = 0.75
"""Semblance along the curve below which a fit is refused."""

_ACCEPTED = "accepted"


@dataclass(frozen=True, slots=True)
class HyperbolaFits:
    """Every hyperbola that was looked at, accepted or not; arrays over (event,).

    Attributes
    ----------
    line : int64
        Index of the line in the sequence given.
    along_m, x_m, y_m : float64
        Apex along the line and in the local grid, metres.
    time_ns : float64
        Vertical two-way time in the ground to the target's front, surface effect and separation taken off.
    depth_m : float64
        Depth of the target's front by its own velocity, metres.
    velocity_m_per_ns, sd_m_per_ns : float64
        Velocity with the crossing angle taken out; deviation of this fit alone.
    coherence : float64
        Semblance, 0 to 1.
    traces : int64
        How many took part.
    angle_deg : float64
        Crossing angle of a linear target from the perpendicular; NaN: taken as a point.
    pair_deg : float64
        Crossing angle if two lone events on neighbouring lines are one linear target; NaN: no such partner.
    target : int64
        Events of one linear target share a number, and so do the two of a pair; a point has its own; -1:
        refused.
    accepted : bool
        Whether the event counts.
    reason : tuple of str
        "accepted", or why not.
    radius_m : float
        Front to centre that was assumed.
    lines_used : tuple of int
        Indices of the lines that were searched.
    """

    line: NDArray[np.int64]
    along_m: Float64
    x_m: Float64
    y_m: Float64
    time_ns: Float64
    depth_m: Float64
    velocity_m_per_ns: Float64
    sd_m_per_ns: Float64
    coherence: Float64
    traces: NDArray[np.int64]
    angle_deg: Float64
    pair_deg: Float64
    target: NDArray[np.int64]
    accepted: Bool
    reason: tuple[str, ...]
    radius_m: float
    lines_used: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Event:
    signal: LineSignal
    first: Candidate
    fit: Fit
    reason: str = _ACCEPTED
    angle_deg: float = float("nan")
    pair_deg: float = float("nan")
    target: int = -1


def fit_hyperbolas(
    lines: Sequence[CleanLine],
    sample_interval_ns: float,
    antenna: Antenna,
    *,
    aperture_deg: float = 40.0,
    radius_m: float = RADIUS_M,
    point_radius_m: float = POINT_RADIUS_M,
    effect: SurfaceEffect | None = None,
    most_lines: int = 32,
    most_fits: int = 800,
) -> HyperbolaFits:
    """Find hyperbolas in conditioned lines and fit the velocity of each.

    Parameters
    ----------
    lines : sequence of CleanLine
        Time zero at sample 0, background removed, bad traces zero; before or after gain.
    sample_interval_ns : float
        Common to all lines.
    antenna : Antenna
        Centre frequency, separation and height above the ground are used.
    aperture_deg : float
        Half aperture, angle from the vertical at the target.
    radius_m, point_radius_m : float
        Assumed distance from a target's front to the centre of its curve, for rows of crossings and for
        points.
    effect : SurfaceEffect or None
        What the ground surface does to travel times; None: of this antenna.
        `gridmap.velocity.surface.straight_rays` gives the textbook hyperbola.
    most_lines, most_fits : int
        Bounds on work: more lines are thinned evenly, only the strongest candidates are fitted.

    Returns
    -------
    HyperbolaFits
        May be empty.

    Notes
    -----
    Travel time from transmitter to target to receiver, straight in the ground, plus the surface's delay and
    phase (`gridmap.velocity.surface`), less the time from front to centre of the target. Velocities are root
    mean square velocities down to the target.
    """
    period = 1e3 / antenna.frequency_mhz
    effect = surface_effect(antenna.frequency_mhz, antenna.height_m) if effect is None else effect
    reach = min(8.0 * 0.1 * period, 3.0)
    setting = Setting(
        sample_interval_ns,
        antenna.frequency_mhz,
        antenna.separation_m,
        effect,
        aperture_deg,
        reach,
        radius_m,
    )
    used = tuple(choose_lines(len(lines), most_lines))
    scan = None
    found: list[tuple[LineSignal, Candidate]] = []
    for index in used:
        signal = prepare_line(index, lines[index], 0.08 * 0.1 * period)
        if scan is None:
            scan = coarse_scan(
                signal.values.shape[1], sample_interval_ns, antenna.frequency_mhz,
                antenna.separation_m, effect, 30.0, reach,
            )  # fmt: skip
        found += [(signal, candidate) for candidate in find_candidates(signal, scan)]
    found.sort(key=lambda pair: -(pair[1].coherence ** 2) * pair[1].power ** 0.5)

    def fitted(pair: tuple[LineSignal, Candidate]) -> _Event:
        signal, first = pair
        fit = refine(signal, first.apex_m, first.time_ns, first.velocity_m_per_ns, setting)
        return _Event(signal, first, fit, _judge(fit, first, period, signal))

    events = each(fitted, found[:most_fits])
    events = _drop_echoes_of_echoes(_drop_doubles(events, period))
    events = _cross(events, setting, period, point_radius_m)
    return _pack(events, radius_m, used)


def _judge(fit: Fit, first: Candidate, period: float, signal: LineSignal) -> str:
    """Say why a fit is refused, or that it is accepted."""
    if not fit.inside:
        return "no peak of coherence between 0.05 and 0.18 m/ns: flat, or not in the ground"
    if not signal.along_m[0] + 0.1 <= fit.apex_m <= signal.along_m[-1] - 0.1:
        return "apex at the end of the line"
    if fit.time_ns < 1.2 * period:
        return "too near the direct wave"
    if abs(fit.apex_m - first.apex_m) > 0.3 or abs(fit.time_ns - first.time_ns) > 0.8 * period:
        return "no apex: the fit wandered off"
    if fit.traces < 9 or fit.coverage < 0.75:
        return "too few good traces on the curve"
    if fit.balance < 0.5:
        return "one limb only"
    if fit.coherence < LEAST_COHERENCE:
        return "not coherent"
    if fit.sd_m_per_ns > 0.2 * fit.velocity_m_per_ns:
        return "too little curvature to tell a velocity"
    return _ACCEPTED


def _drop_doubles(events: list[_Event], period: float) -> list[_Event]:
    """Keep the most coherent of fits that ended at the same apex."""
    kept: list[_Event] = []
    of_line: dict[int, list[_Event]] = {}
    for event in sorted(events, key=lambda e: (e.reason != _ACCEPTED, -e.fit.coherence)):
        others = of_line.setdefault(event.signal.index, [])
        same = any(
            abs(e.fit.apex_m - event.fit.apex_m) < 0.15
            and abs(e.fit.time_ns - event.fit.time_ns) < 0.5 * period
            for e in others
        )
        if not same:
            kept.append(event)
            others.append(event)
    return kept


def _drop_echoes_of_echoes(events: list[_Event]) -> list[_Event]:
    """Refuse what lies under another hyperbola, or over one far stronger.

    Under it: the echo went twice, or came through the target and back. Over it: the filter's ringing.
    """
    out = []
    for event in events:
        if event.reason == _ACCEPTED:
            stacked = [
                e.fit
                for e in events
                if e.signal.index == event.signal.index
                and e is not event
                and abs(e.fit.apex_m - event.fit.apex_m) < 0.25
                and e.fit.inside
                and e.fit.coherence > 0.7
            ]
            under = any(f.time_ns < event.fit.time_ns and 6.0 * f.power > event.fit.power for f in stacked)
            over = any(f.power > 30.0 * event.fit.power for f in stacked)
            if under or over:
                event = replace(event, reason="repeats a stronger echo above or below it")
        out.append(event)
    return out


def _cross(events: list[_Event], setting: Setting, period: float, point_radius_m: float) -> list[_Event]:
    """Join crossings of linear targets, refit them with their angle, and number the targets."""
    good = [i for i, e in enumerate(events) if e.reason == _ACCEPTED]
    if not good:
        return events
    line = np.array([events[i].signal.index for i in good])
    xy = np.array([_place(events[i]) for i in good])
    direction = np.array([_direction(events[i]) for i in good])
    time = np.array([events[i].fit.time_ns for i in good])
    apart = _apart(xy, direction, line)
    reach = float(np.clip(3.2 * apart, 0.8, 3.0))
    # Places are good to some centimetres; wider tolerance than that would let a row point anywhere.
    off_m = float(np.clip(0.4 * apart, 0.04, 0.12))
    row, angle = match_crossings(line, xy, direction, time, reach, off_m=off_m, off_ns=0.22 * period)
    velocity = np.array([events[i].fit.velocity_m_per_ns for i in good])
    partner, pair_deg = match_pairs(row, line, xy, direction, time, velocity, reach, off_ns=0.22 * period)
    out = list(events)
    fresh = int(row.max()) + 1
    for k, i in enumerate(good):
        event = events[i]
        if row[k] < 0:
            fit = event.fit
            fit = refine(
                event.signal, fit.apex_m, fit.time_ns, fit.velocity_m_per_ns,
                replace(setting, radius_m=point_radius_m),
            )  # fmt: skip
            number = out[good[partner[k]]].target if 0 <= partner[k] < k else -1
            if number < 0:
                number, fresh = fresh, fresh + 1
            out[i] = _again(replace(event, fit=fit, pair_deg=float(pair_deg[k]), target=number))
            continue
        fit = event.fit
        if angle[k] > 3.0:
            squeeze = float(np.cos(np.radians(angle[k])))
            v = fit.velocity_m_per_ns * squeeze
            fit = refine(event.signal, fit.apex_m, fit.time_ns, v, setting, squeeze)
        out[i] = _again(replace(event, fit=fit, angle_deg=float(angle[k]), target=int(row[k])))
    return out


def _again(event: _Event) -> _Event:
    """Refuse an event whose second fit failed."""
    if event.fit.inside and event.fit.coherence >= LEAST_COHERENCE:
        return event
    return replace(event, reason="not coherent once its kind is known", target=-1)


def _place(event: _Event) -> Float64:
    along, xy = event.signal.along_m, event.signal.xy_m
    return np.array([np.interp(event.fit.apex_m, along, xy[:, k]) for k in range(2)])


def _direction(event: _Event) -> Float64:
    """Return the unit vector along the line over the aperture of the event."""
    along, xy = event.signal.along_m, event.signal.xy_m
    ends = [event.fit.apex_m - 0.5, event.fit.apex_m + 0.5]
    step = np.array([np.diff(np.interp(ends, along, xy[:, k]))[0] for k in range(2)])
    return np.asarray(step / max(float(np.hypot(*step)), 1e-9))


def _apart(xy: Float64, direction: Float64, line: NDArray[np.int64]) -> float:
    """Return the line spacing as far as the events tell it, metres; a quarter of a metre if they do not."""
    normal = np.stack([-direction[:, 1], direction[:, 0]], axis=1)
    near = []
    for i in range(len(line)):
        across = np.abs((xy - xy[i]) @ normal[i])[
            (line != line[i]) & (np.abs(direction @ direction[i]) > 0.97)
        ]
        if len(across[across > 0.05]):
            near.append(float(across[across > 0.05].min()))
    return float(np.median(near)) if near else 0.25


def _pack(events: list[_Event], radius_m: float, used: tuple[int, ...]) -> HyperbolaFits:
    events = sorted(events, key=lambda e: (e.signal.index, e.fit.apex_m, e.fit.time_ns))
    xy = np.array([_place(e) for e in events]).reshape(-1, 2)

    def column(values: list[float]) -> Float64:
        return np.array(values, dtype=float)

    time = column([e.fit.time_ns for e in events])
    velocity = column([e.fit.velocity_m_per_ns for e in events])
    return HyperbolaFits(
        np.array([e.signal.index for e in events], dtype=np.int64),
        column([e.fit.apex_m for e in events]),
        xy[:, 0],
        xy[:, 1],
        time,
        0.5 * velocity * time,
        velocity,
        column([e.fit.sd_m_per_ns for e in events]),
        column([e.fit.coherence for e in events]),
        np.array([e.fit.traces for e in events], dtype=np.int64),
        column([e.angle_deg for e in events]),
        column([e.pair_deg for e in events]),
        np.array([e.target for e in events], dtype=np.int64),
        np.array([e.reason == _ACCEPTED for e in events], dtype=bool),
        tuple(e.reason for e in events),
        radius_m,
        used,
    )
