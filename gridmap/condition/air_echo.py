"""Echoes of things above the ground (posts, trees, walls, fences): they travel through the air, at 0.2998 m/ns.

A post at X, Y answers every trace of the survey at 2 d / c, a wall at twice its perpendicular distance over c. So
each candidate place in and around the survey is tried on all traces at once: their phases, taken along the time that
it predicts, add up only if something stands there. The ground is slower than half the air's speed, so nothing buried
keeps that time over more than a few traces.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy import fft

from gridmap.condition.air_scan import stack_posts, stack_walls
from gridmap.model import LIGHT_M_PER_NS, CleanLine, Float32, Float64, Int64

MOST_TRACES = 4000
"""Traces tried; of a larger survey every n-th."""
FEWEST_TRACES = 50
MOST_ECHOES = 6
STANDS_OUT = 7.0
"""Coherent sum over the square root of its number of traces, at least. Of random phases it is 0.9 on average and 3.7 at
most over a million places (Rayleigh); ground laid in flat layers reaches 5."""
OVER_OTHER_SPEEDS = 1.5
"""How many times it must exceed what the same scan finds at speeds that nothing there has."""
OTHER_SPEEDS = (0.75, 1.33)
"""Such speeds, in parts of light's: above any ground's, or above light's."""
SHOWN = 0.3
"""Coherence on one line from which the line counts as showing it."""


@dataclass(frozen=True, slots=True)
class AirEcho:
    """One thing above the ground.

    Attributes
    ----------
    kind : "post" or "wall"
        Something small in plan, or something long and straight.
    x_m, y_m : float
        Its place, local metres; of a wall the foot of the perpendicular from the middle of the survey.
    normal_deg : float
        Of a wall: direction from the survey to it, degrees anticlockwise from local x; NaN of a post.
    nearest_m : float
        From the nearest trace to it, metres.
    coherence : float
        Mean resultant of the phases along its time, 0 to 1.
    stands_out : float
        The same times the square root of the number of traces.
    lines : tuple of str
        Lines on which it shows.
    """

    kind: Literal["post", "wall"]
    x_m: float
    y_m: float
    normal_deg: float
    nearest_m: float
    coherence: float
    stands_out: float
    lines: tuple[str, ...]

    def distance_m(self, xy_m: Float64) -> Float64:
        """Distance from each of (n, 2) local places, metres, (n,) float64."""
        off = np.asarray(xy_m, dtype=float) - (self.x_m, self.y_m)
        if self.kind == "post":
            return np.asarray(np.hypot(off[:, 0], off[:, 1]))
        angle = math.radians(self.normal_deg)
        return np.asarray(np.abs(off @ (math.cos(angle), math.sin(angle))))

    def two_way_ns(self, xy_m: Float64, separation_m: float) -> Float64:
        """Time of its echo at antenna mid-points (n, 2), nanoseconds.

        The separation is taken square to the way there, which is right within S^2 / (4 d): 2 cm of 0.3 m at 1 m.
        """
        return np.asarray(2.0 * np.hypot(self.distance_m(xy_m), 0.5 * separation_m) / LIGHT_M_PER_NS)


def find_air_echoes(
    lines: Sequence[CleanLine], interval_ns: float, separation_m: float, period_ns: float
) -> tuple[AirEcho, ...]:
    """Find what stands above the ground and answers through the air.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned lines on one time axis, background removed, any gain.
    interval_ns, separation_m, period_ns : float
        Sample interval; of the antenna; one period of its frequency.

    Returns
    -------
    tuple of AirEcho
        The strongest first. Each is taken off the phases before the next is looked for, so that its flanks are not
        found again. Nothing within two periods of time zero is found: the direct wave is there.

    Notes
    -----
    A diffraction stack (Schneider 1978 [memory]) with the image plane laid over the ground; phases alone are stacked
    (Schimmel and Paulssen 1997 [memory]), so that one strong trace cannot do it.
    """
    if sum(int(line.usable.sum()) for line in lines) < FEWEST_TRACES:
        return ()
    scan = _Scan.of(lines, interval_ns, separation_m, period_ns)
    found: list[AirEcho] = []
    while len(found) < MOST_ECHOES:
        echo = _strongest(scan, lines)
        if echo is None:
            break
        found.append(echo)
        scan.take_off(echo)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a stack is largest, and how large."""

    value: float
    xy_m: Float64
    normal_deg: float = math.nan


@dataclass(frozen=True, slots=True)
class _Scan:
    """Phasors of thinned traces, (trace, sample), and how they are tried."""

    xy_m: Float64
    line: Int64
    re: Float32
    im: Float32
    interval_ns: float
    separation_m: float
    period_ns: float

    @classmethod
    def of(
        cls, lines: Sequence[CleanLine], interval_ns: float, separation_m: float, period_ns: float
    ) -> _Scan:
        """Thin the traces to a tenth of a wavelength in air, and keep their phase."""
        step_m = 0.1 * LIGHT_M_PER_NS * period_ns
        chosen = []
        for line in lines:
            apart = float(np.median(np.diff(line.along_m))) if len(line.along_m) > 1 else step_m
            chosen.append(np.flatnonzero(line.usable)[:: max(1, round(step_m / max(apart, 1e-6)))])
        every = max(1, math.ceil(sum(map(len, chosen)) / MOST_TRACES))
        chosen = [index[i % every :: every] for i, index in enumerate(chosen)]
        traces = np.concatenate([ln.traces[index] for ln, index in zip(lines, chosen, strict=True)])
        phasor = _phasors(traces)
        return cls(
            np.concatenate([ln.xy_m[index] for ln, index in zip(lines, chosen, strict=True)]),
            np.repeat(np.arange(len(lines)), [len(index) for index in chosen]),
            np.ascontiguousarray(phasor.real, np.float32),
            np.ascontiguousarray(phasor.imag, np.float32),
            interval_ns,
            separation_m,
            period_ns,
        )

    def _how(self, speed: float) -> tuple[float, float, float]:
        """Give samples a metre, square of half the separation, first sample: as the stacks take them."""
        per_m = 2.0 / (speed * LIGHT_M_PER_NS * self.interval_ns)
        return per_m, (0.5 * self.separation_m) ** 2, 2.0 * self.period_ns / self.interval_ns

    def post(self, speed: float = 1.0) -> _Place:
        """Find the best post at a speed, in parts of light's, anywhere that the record reaches."""
        step_m = 0.15 * LIGHT_M_PER_NS * self.period_ns * speed
        reach_m = self._reach_m(speed)
        low, high = self.xy_m.min(axis=0) - reach_m, self.xy_m.max(axis=0) + reach_m
        place = self._best_post(np.arange(low[0], high[0], step_m), np.arange(low[1], high[1], step_m), speed)
        for finer in (step_m / 4, step_m / 16):
            near = finer * np.arange(-4, 5)
            place = self._best_post(place.xy_m[0] + near, place.xy_m[1] + near, speed)
        return place

    def wall(self, speed: float = 1.0) -> _Place:
        """Find the best wall at a speed, in parts of light's, from the survey's edge to where the record ends."""
        step_m = 0.15 * LIGHT_M_PER_NS * self.period_ns * speed
        return self._best_wall(
            np.arange(0.0, 360.0, 1.5), np.arange(0.0, self._reach_m(speed), step_m), speed
        )

    def _reach_m(self, speed: float) -> float:
        return float(0.5 * speed * LIGHT_M_PER_NS * self.interval_ns * (self.re.shape[1] - 2))

    def _best_post(self, gx: Float64, gy: Float64, speed: float) -> _Place:
        out = stack_posts(self.re, self.im, self.xy_m, gx, gy, *self._how(speed))
        j, i = np.unravel_index(int(out.argmax()), out.shape)
        return _Place(float(out[j, i]), np.array([gx[i], gy[j]]))

    def _best_wall(self, normal_deg: Float64, beyond_m: Float64, speed: float) -> _Place:
        angle = np.radians(normal_deg)
        normal = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        out = stack_walls(self.re, self.im, self.xy_m, normal, beyond_m, *self._how(speed))
        j, i = np.unravel_index(int(out.argmax()), out.shape)
        middle = 0.5 * (self.xy_m.min(axis=0) + self.xy_m.max(axis=0))
        ahead_m = float((self.xy_m @ normal[j]).max() + beyond_m[i] - middle @ normal[j])
        return _Place(float(out[j, i]), middle + ahead_m * normal[j], float(normal_deg[j]))

    def take_off(self, echo: AirEcho) -> None:
        """Silence the phasors within one period of an echo's time."""
        at = echo.two_way_ns(self.xy_m, self.separation_m)[:, None]
        time_ns = self.interval_ns * np.arange(self.re.shape[1])
        near = np.abs(time_ns - at) < self.period_ns
        self.re[near] = 0.0
        self.im[near] = 0.0

    def along(self, echo: AirEcho) -> tuple[Int64, Float32]:
        """Traces that an echo's time lies on, and their phasors there, (n,) and (n,) complex64."""
        at = np.rint(echo.two_way_ns(self.xy_m, self.separation_m) / self.interval_ns).astype(int)
        on = np.flatnonzero((at >= 2.0 * self.period_ns / self.interval_ns) & (at < self.re.shape[1]))
        return on, np.asarray(self.re[on, at[on]] + 1j * self.im[on, at[on]])


def _phasors(traces: Float32) -> Float32:
    """Analytic traces over their own envelope plus half its usual size at that time, (trace, sample) complex."""
    samples = traces.shape[1]
    size = fft.next_fast_len(2 * samples)
    spectrum = fft.fft(traces, size, axis=1)
    spectrum[:, 1 : (size + 1) // 2] *= 2
    spectrum[:, size // 2 + 1 :] = 0
    analytic = fft.ifft(spectrum, axis=1)[:, :samples]
    size_of = np.abs(analytic)
    return np.asarray(analytic / (size_of + 0.5 * np.median(size_of, axis=0) + 1e-30))


def _strongest(scan: _Scan, lines: Sequence[CleanLine]) -> AirEcho | None:
    """Give the thing that stands out most, where it stands out enough, and more than at any wrong speed."""
    post, wall = scan.post(), scan.wall()
    search, best = (scan.wall, wall) if wall.value > post.value else (scan.post, post)
    if best.value < STANDS_OUT:
        return None
    if best.value < OVER_OTHER_SPEEDS * max(search(speed).value for speed in OTHER_SPEEDS):
        return None
    kind: Literal["post", "wall"] = "wall" if best is wall else "post"
    bare = AirEcho(kind, float(best.xy_m[0]), float(best.xy_m[1]), best.normal_deg, 0.0, 0.0, best.value, ())
    on, phasor = scan.along(bare)
    showing = []
    total = phasor.sum()
    turn = np.conj(total) / max(abs(total), 1e-30)
    for i, line in enumerate(lines):
        mine = phasor[scan.line[on] == i]
        if len(mine) >= 5 and (mine * turn).real.mean() > SHOWN:
            showing.append(line.name)
    return replace(
        bare,
        nearest_m=float(bare.distance_m(scan.xy_m).min()),
        coherence=float(abs(phasor.mean())),
        lines=tuple(showing),
    )
