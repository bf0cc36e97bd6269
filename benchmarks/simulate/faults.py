"""The faults of field work, planned before the echoes are laid (times) and applied after (amplitudes)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchmarks.simulate.pulse import ricker_spectrum


@dataclass(frozen=True, slots=True)
class Levels:
    """Sizes of the faults; amplitudes relative to a direct wave of 1."""

    time_zero_ns: float = 2.5
    time_zero_line_ns: float = 0.2
    time_zero_drift_ns: float = 0.1
    time_zero_jitter_ns: float = 0.015
    gain_line: float = 0.08
    gain_drift: float = 0.04
    dc: float = 0.006
    wow: float = 0.12
    ringing: float = 0.012
    white: float = 4e-4
    band: float = 4e-4
    bumps: float = 0.15
    dead: float = 0.15


@dataclass(frozen=True, slots=True)
class Faults:
    """What goes wrong on one line; arrays (trace,). `log` says it in words for the truth file."""

    time_zero_ns: np.ndarray
    gain: np.ndarray
    dead: np.ndarray
    noise: np.ndarray
    log: tuple[dict[str, object], ...]


def _slow(rng: np.random.Generator, count: int, waves: int = 3) -> np.ndarray:
    """Slow variation of r.m.s. about 1 along a line."""
    s = np.linspace(0, 1, count)
    phase = rng.uniform(0, 2 * np.pi, waves)
    return sum(np.cos(2 * np.pi * (k + 1) * s * 0.7 + p) for k, p in enumerate(phase)) / np.sqrt(waves / 2)


def plan_faults(rng: np.random.Generator, trigger: np.ndarray, levels: Levels) -> Faults:
    """Draw the faults of one line."""
    count = len(trigger)
    base = levels.time_zero_ns + levels.time_zero_line_ns * rng.normal()
    drift = levels.time_zero_drift_ns * rng.normal()
    time_zero = base + drift * np.linspace(0, 1, count) + levels.time_zero_jitter_ns * rng.normal(size=count)
    gain = np.exp(levels.gain_line * rng.normal()) * (1 + levels.gain_drift * _slow(rng, count))
    noise, dead, log = np.ones(count), np.zeros(count, bool), []
    if rng.random() < levels.bumps:
        size = int(rng.integers(5, 11))
        first = int(rng.integers(5, count - size - 5))
        shape = np.sin(np.pi * (np.arange(size) + 0.5) / size)
        time_zero[first : first + size] += 0.5 * shape
        gain[first : first + size] *= 1 - 0.4 * shape
        noise[first : first + size] *= 1 + 4 * shape
        log.append(
            {
                "kind": "bump",
                "first_trigger": int(trigger[first]),
                "last_trigger": int(trigger[first + size - 1]),
            }
        )
    if rng.random() < levels.dead:
        size = int(rng.integers(1, 5))
        first = int(rng.integers(3, count - size - 3))
        dead[first : first + size] = True
        log.append(
            {
                "kind": "dead",
                "first_trigger": int(trigger[first]),
                "last_trigger": int(trigger[first + size - 1]),
            }
        )
    log.insert(
        0,
        {
            "time_zero_ns": round(base, 3),
            "time_zero_drift_ns": round(drift, 3),
            "gain": round(float(gain.mean()), 3),
        },
    )
    return Faults(time_zero, gain, dead, noise, tuple(log))


def apply_faults(
    rng: np.random.Generator,
    traces: np.ndarray,
    faults: Faults,
    levels: Levels,
    interval_ns: float,
    centre_ghz: float,
) -> np.ndarray:
    """Lay ringing, gain, wow, DC and noise on clean traces (trace, sample); dead traces keep noise alone."""
    count, samples = traces.shape
    t = np.arange(samples) * interval_ns
    after = t[None, :] - faults.time_zero_ns[:, None]
    late = np.clip(after, 0, None)
    # Ringing: the same along the line, from the shell of the antenna; three decaying tones near the centre
    # frequency.
    ringing = np.zeros_like(traces)
    for _ in range(3):
        tone, phase = centre_ghz * rng.uniform(0.6, 1.2), rng.uniform(0, 2 * np.pi)
        ringing += (
            np.cos(2 * np.pi * tone * late + phase) * np.exp(-late / rng.uniform(6, 14)) * np.minimum(1, late)
        )
    # Wow: the slow undershoot after the direct wave, and a slower drift of each trace.
    rise, fall = rng.uniform(2.5, 3.5), rng.uniform(7, 10)
    wow = np.exp(-late / fall) - 1.7 * np.exp(-late / rise)
    wow *= (late > 0) * (1 + 0.05 * rng.normal(size=(count, 1)))
    out = (traces + levels.ringing / 3 * ringing + levels.wow * wow) * faults.gain[:, None]
    out[faults.dead] = 0.0
    sway = rng.normal(size=(count, 2)) @ np.stack([np.sin(np.pi * t / t[-1]), np.cos(np.pi * t / t[-1])])
    out += levels.dc * (rng.normal() + 0.3 * rng.normal(size=(count, 1))) + 0.1 * levels.dc * sway
    noise = rng.normal(size=(count, samples))
    spectrum = ricker_spectrum(np.fft.rfftfreq(samples, interval_ns), centre_ghz)
    white = noise
    shaped = np.fft.irfft(np.fft.rfft(rng.normal(size=(count, samples)), axis=1) * spectrum, samples, axis=1)
    out += faults.noise[:, None] * (levels.white * white + levels.band * shaped / shaped.std())
    return out
