"""Faults of field work put into simulated lines, each in several shapes: what `gridmap check` must name.

The shapes are this file's own and have nothing of the surveys that come with their truth: bursts that fall off from
 one side or ring in the antenna's band, lifts with ramps and echoes that come later, stops and backing up with the
place taken a little beside, tones, jumps, clipping, lines cut short, turned, exchanged, copied, left out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from gridmap.condition.nearfield import direct_waves


@dataclass
class Walked:
    """One line to be written: traces (trace, sample), trigger numbers from 1, times, and what was done to it."""

    name: str
    traces: np.ndarray
    trigger: np.ndarray
    time_s: np.ndarray
    done: list[dict[str, object]] = field(default_factory=list)

    def log(self, kind: str, first: int | None = None, last: int | None = None, **more: object) -> None:
        """Note a fault; traces are counted from 1 in the order of the file."""
        self.done.append({"line": self.name, "kind": kind, "first": first, "last": last, **more})


@dataclass(frozen=True)
class Radar:
    """What the faults need to know of the radar; `noise` is its floor in the unit of the traces."""

    mhz: float
    separation_m: float
    height_m: float
    interval_ns: float
    zero_ns: float
    noise: float


Fault = Callable[[np.random.Generator, Walked, Radar], None]


def _place(rng: np.random.Generator, line: Walked, size: int) -> int:
    """First trace of a free stretch, not within ten traces of what was done already."""
    count = len(line.traces)
    for _ in range(200):
        first = int(rng.integers(12, count - size - 12))
        near = [d for d in line.done if d["first"] is not None]
        if all(first > int(d["last"]) + 12 or first + size < int(d["first"]) - 12 for d in near):
            return first
    raise ValueError(f"no room on line {line.name}")


def dead(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """One to nine traces at a constant level, as of a loose plug."""
    size = int(rng.integers(1, 10))
    first = _place(rng, line, size)
    level = rng.choice([0.0, 0.2]) * np.abs(line.traces).max()
    line.traces[first : first + size] = level + radar.noise * rng.normal(size=(size, line.traces.shape[1]))
    line.log("dead", first + 1, first + size)


def bump(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """A knock: strong at once and dying away over some traces, white, or ringing in the antenna's band."""
    size = int(rng.integers(3, 12))
    first = _place(rng, line, size)
    samples = line.traces.shape[1]
    fall = np.exp(-np.arange(size) / (0.5 * size))
    noise = rng.normal(size=(size, samples))
    if rng.random() < 0.5:
        ghz = np.fft.rfftfreq(samples, radar.interval_ns)
        band = np.exp(-(((ghz - radar.mhz * 1e-3) / (0.35e-3 * radar.mhz)) ** 2))
        noise = np.fft.irfft(np.fft.rfft(noise, axis=1) * band, samples, axis=1)
        noise /= noise.std()
    line.traces[first : first + size] += rng.uniform(8, 20) * radar.noise * fall[:, None] * noise
    line.log("bump", first + 1, first + size)


def burst(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """A telephone: noise six to twelve times the floor, over two to four metres."""
    size = int(rng.integers(50, 90))
    first = _place(rng, line, size)
    noise = rng.normal(size=(size, line.traces.shape[1]))
    line.traces[first : first + size] += rng.uniform(6, 12) * radar.noise * noise
    line.log("burst", first + 1, first + size)


def lift(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """Four to eleven centimetres off the ground with ramps: another direct wave, echoes later and weaker."""
    size = int(rng.integers(10, 30))
    first = _place(rng, line, size)
    ramp = np.clip(np.minimum(np.arange(size) + 1, size - np.arange(size)) / 4.0, 0, 1)
    rise = rng.uniform(0.04, 0.11) * ramp
    samples = line.traces.shape[1]
    base = max(radar.height_m, 0.1 * radar.separation_m)
    heights = tuple(base + h for h in np.concatenate([[0.0], rise]))
    time, fields = direct_waves(radar.mhz, radar.separation_m, heights, 9.0)
    t = radar.interval_ns * np.arange(samples) - radar.zero_ns
    waves = np.array([np.interp(t, time, f, 0.0, 0.0) for f in fields])
    own = np.median(line.traces, axis=0)
    size_of = np.abs(own).max() / np.abs(waves[0]).max()
    length = 2 * samples
    ghz = np.fft.rfftfreq(length, radar.interval_ns)
    rest = np.fft.rfft(line.traces[first : first + size] - own, length, axis=1)
    rest = np.fft.irfft(rest * np.exp(-2j * np.pi * ghz * 2 * rise[:, None] / 0.2998), length, axis=1)[
        :, :samples
    ]
    weaker = 1.0 - 3.0 * rise[:, None]
    line.traces[first : first + size] = own + size_of * (waves[1:] - waves[0]) + weaker * rest
    line.log("lifted", first + 1, first + size, rise_m=float(rise.max()))


def stop(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """Stood for 25 to 60 traces while a clock triggered."""
    size = int(rng.integers(25, 60))
    first = _place(rng, line, 1)
    _insert(line, first, _again(rng, line, np.full(size, first), radar))
    line.log("stopped", first + 1, first + size + 1)


def back_up(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """Half a metre to a metre and a half back and on again, each pass up to a third of a step beside the last."""
    size = int(rng.integers(12, 32))
    first = _place(rng, line, size) + size
    passes = [np.arange(first - 1, first - 1 - size, -1), np.arange(first - size, first)]
    again = np.concatenate([_again(rng, line, p, radar, rng.uniform(-0.33, 0.33)) for p in passes])
    _insert(line, first, again)
    line.log("backed up", first - size + 1, first + 2 * size)


def drop(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """Two to twelve triggers not recorded."""
    size = int(rng.integers(2, 13))
    first = _place(rng, line, size)
    for name in ("traces", "trigger", "time_s"):
        setattr(line, name, np.delete(getattr(line, name), np.s_[first : first + size], axis=0))
    for d in line.done:
        if d["first"] is not None and int(d["first"]) > first:
            d["first"], d["last"] = int(d["first"]) - size, int(d["last"]) - size
    line.log("gap", first, first + 1)


def tone(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """A transmitter somewhere between 70 and 1000 MHz, one to three times the floor."""
    mhz = float(rng.uniform(70, min(1000.0, 0.4e3 / radar.interval_ns)))
    phase = rng.uniform(0, 2 * np.pi, (len(line.traces), 1))
    t = radar.interval_ns * np.arange(line.traces.shape[1])
    line.traces += rng.uniform(1.0, 3.0) * radar.noise * np.cos(2 * np.pi * mhz * 1e-3 * t + phase)
    line.log("tone", mhz=mhz)


def jump(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """Time zero jumps by a tenth to a half of a period and stays."""
    first = _place(rng, line, 20)
    by = float(rng.choice([-1, 1]) * rng.uniform(0.1, 0.5) * 1e3 / radar.mhz)
    samples = line.traces.shape[1]
    ghz = np.fft.rfftfreq(2 * samples, radar.interval_ns)
    part = np.fft.rfft(line.traces[first:], 2 * samples, axis=1) * np.exp(-2j * np.pi * ghz * by)
    line.traces[first:] = np.fft.irfft(part, 2 * samples, axis=1)[:, :samples]
    line.log("time zero", first, first + 1)


def clip(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """Rails at a third to two thirds of the direct wave."""
    rail = rng.uniform(0.33, 0.66) * np.abs(line.traces).max()
    line.traces = np.clip(line.traces, -rail, rail)
    line.log("clipped")


def noisy(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """The whole line four to eight times as noisy."""
    line.traces += rng.uniform(4, 8) * radar.noise * rng.normal(size=line.traces.shape)
    line.log("noisy")


def cut_short(rng: np.random.Generator, line: Walked, radar: Radar) -> None:
    """The last quarter to half was not walked; the labels say it was."""
    kept = round(len(line.traces) * (1 - rng.uniform(0.25, 0.5)))
    for name in ("traces", "trigger", "time_s"):
        setattr(line, name, getattr(line, name)[:kept])
    line.log("short")


FAULTS: dict[str, Fault] = {
    "dead": dead,
    "bump": bump,
    "burst": burst,
    "lifted": lift,
    "stopped": stop,
    "backed up": back_up,
    "gap": drop,
    "tone": tone,
    "time zero": jump,
    "clipped": clip,
    "noisy": noisy,
    "short": cut_short,
}
"""Kind of finding that each fault must give, and how it is made."""


def _again(
    rng: np.random.Generator, line: Walked, index: np.ndarray, radar: Radar, beside: float = 0.0
) -> np.ndarray:
    """The same places taken again, `beside` of a step away, with noise of their own."""
    neighbour = np.clip(index + (1 if beside > 0 else -1), 0, len(line.traces) - 1)
    share = abs(beside)
    traces = (1 - share) * line.traces[index] + share * line.traces[neighbour]
    return traces + radar.noise * rng.normal(size=traces.shape)


def _insert(line: Walked, first: int, traces: np.ndarray) -> None:
    """Put traces in before index `first`; triggers and times go on."""
    line.traces = np.concatenate([line.traces[:first], traces, line.traces[first:]])
    step = float(np.median(np.diff(line.time_s)))
    line.trigger = np.arange(1, len(line.traces) + 1)
    line.time_s = line.time_s[0] + step * np.arange(len(line.traces))
    for d in line.done:
        if d["first"] is not None and int(d["first"]) > first:
            d["first"], d["last"] = int(d["first"]) + len(traces), int(d["last"]) + len(traces)
