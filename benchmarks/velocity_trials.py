"""Velocity found on simulated surveys of layered ground drawn at random, against the truth.

Frequencies, ground, layers, antenna height and separation, line and trace spacing, pipes, stones, noise and
faults of place are drawn from a seed; echoes are full-wave (`benchmarks.simulate.layered_field`). Usage:

    python -m benchmarks.velocity_trials --surveys 20 [--first 0] [--json FILE]
"""

from __future__ import annotations

import argparse
import json
import math
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.simulate.ground import Layer
from benchmarks.simulate.layered_field import Buried, Echoes, direct_wave
from benchmarks.simulate.pulse import ricker_spectrum
from gridmap.condition.recipe import choose_recipe, finish_lines, prepare_line
from gridmap.model import CleanLine, Line, PlacedLine
from gridmap.site.records import Antenna, Ground
from gridmap.velocity.evidence import survey_velocity


@dataclass(frozen=True, slots=True)
class Trial:
    """One simulated survey and its truth."""

    number: int
    antenna: Antenna
    layers: tuple[Layer, ...]
    things: tuple[Buried, ...]
    lines: tuple[PlacedLine, ...]
    spacing_m: float

    @property
    def pipes(self) -> tuple[Buried, ...]:
        """What is crossed, without the stones."""
        return tuple(t for t in self.things if t.radius_m > 0)

    def two_way_ns(self, depth_m: float) -> float:
        """Vertical two-way time to a depth."""
        top, ns = 0.0, 0.0
        for layer in self.layers:
            ns += 2 * max(0.0, min(depth_m - top, layer.thickness_m)) / layer.velocity_m_per_ns
            top += layer.thickness_m
        return ns

    @property
    def mean_m_per_ns(self) -> float:
        """Mean velocity to 1 m."""
        return 2.0 / self.two_way_ns(1.0)


def draw(number: int) -> Trial:
    """Draw one survey from its number."""
    rng = np.random.default_rng([7001, number])
    mhz = float(rng.choice([250, 300, 400, 600, 900]))
    wave = 0.1e3 / mhz
    antenna = Antenna(
        mhz,
        round(float(rng.uniform(0.35, 0.6)) * wave, 3),
        round(float(rng.uniform(0.0, 0.16)) * wave, 3),
    )
    side = float(np.clip(16 * wave, 2.5, 6.0))
    deepest = float(np.clip(4.5 * wave, 0.5, 1.6))
    v = [float(np.exp(rng.uniform(np.log(0.075), np.log(0.135))))]
    for _ in range(int(rng.integers(0, 3))):
        v.append(float(np.clip(v[-1] * np.exp(rng.normal(0, 0.14)), 0.065, 0.15)))
    thick = [float(rng.uniform(0.15, 0.6)) for _ in v[:-1]] + [9.0]
    lossy = rng.uniform(1, 8, len(v)) * (mhz / 400) ** 0.5
    layers = tuple(
        Layer(f"layer {i}", h, (0.299792458 / a) ** 2, float(s))
        for i, (h, a, s) in enumerate(zip(thick, v, lossy, strict=True))
    )
    things: list[Buried] = []
    for _ in range(int(rng.integers(3, 7))):
        radius = float(rng.uniform(0.01, 0.06)) * min(1.0, wave / 0.25)
        angle = rng.uniform(-0.9, 0.9)
        inside = (None, 1.0, 2.5)[int(rng.choice(3, p=[0.5, 0.3, 0.2]))]
        things.append(
            Buried(
                (float(rng.uniform(0.1, 0.9) * side), float(rng.uniform(0.1, 0.9) * side)),
                float(rng.uniform(0.9 * wave + radius, deepest)),
                radius,
                inside,
                (math.cos(angle), math.sin(angle)),
            )
        )
    for _ in range(int(rng.integers(20, 60))):
        depth = float(rng.uniform(0.5 * wave, deepest))
        things.append(
            Buried(
                tuple(rng.uniform(0, side, 2)),
                round(depth / (0.1 * deepest)) * 0.1 * deepest + 0.02,
                strength=float(rng.choice([-1, 1]) * rng.lognormal(0, 0.7)),
            )
        )
    spacing = float(rng.choice([0.25, 0.5])) * (1.0 if mhz < 500 else 0.5)
    lines = _walk(rng, antenna, layers, things, side, spacing, 0.15 * wave)
    return Trial(number, antenna, layers, tuple(things), lines, spacing)


def _walk(rng, antenna, layers, things, side, spacing, step):
    mhz, S = antenna.frequency_mhz, antenna.separation_m
    ghz0 = mhz * 1e-3
    interval = 1.0 / ghz0 / 16
    record = 12.5 / ghz0 + 2.2 * 4.5 / ghz0
    samples = int(record / interval)
    length = 2 * samples
    frequency = np.fft.rfftfreq(length, interval)
    use = (frequency > 0.15 * ghz0) & (frequency < 2.6 * ghz0)
    ghz = frequency[use]
    pulse = ricker_spectrum(ghz, ghz0)
    v = layers[0].velocity_m_per_ns
    straight = pulse * direct_wave(ghz, v, max(antenna.height_m, 0.004), S)
    tables: dict[tuple, Echoes] = {}
    sized = []
    for thing in things:
        key = (thing.depth_m, thing.radius_m, thing.permittivity)
        if key not in tables:
            tables[key] = Echoes(thing, ghz, layers, max(antenna.height_m, 0.004), min(3.0, 9 * 0.1 / ghz0))
        sized.append((thing, tables[key]))
    zero = 8.0 / ghz0 * 0.35

    def to_time(spectrum):
        full = np.zeros((len(frequency), spectrum.shape[1]), complex)
        full[use] = spectrum
        return np.fft.irfft(np.conj(full), length, axis=0)[:samples].T / interval

    whole = np.abs(to_time(straight[:, None])).max()
    pipe_size = stone_size = 0.0
    out = []
    for n in range(int(side / spacing) + 1):
        count = int(side / step)
        along = step * np.arange(count) * (1 + 0.004 * rng.normal()) + 0.01 * rng.normal()
        shift = 0.012 * rng.normal() * np.cos(along / 0.7 + rng.uniform(0, 6))
        heading = 1.0 if n % 2 == 0 else -1.0
        true = np.stack([n * spacing + shift, along], axis=1)
        said = np.stack([np.full(count, n * spacing), step * np.arange(count)], axis=1)
        ahead = np.array([0.0, 0.5 * S * heading])
        pipes, stones = np.zeros((len(ghz), count), complex), np.zeros((len(ghz), count), complex)
        for thing, table in sized:
            moved = Echoes.__new__(Echoes)
            moved.__dict__.update(table.__dict__)
            moved.thing = thing
            echo = moved.at(true - ahead, true + ahead) * (1.0 if thing.radius_m > 0 else thing.strength)
            if thing.radius_m > 0:
                pipes += echo
            else:
                stones += echo
        out.append((said, pipes, stones, heading))
        pipe_size = max(pipe_size, np.abs(to_time(pulse[:, None] * pipes)).max())
        stone_size = max(stone_size, np.abs(to_time(pulse[:, None] * stones)).max())
    pipe_gain = rng.uniform(0.03, 0.12) * whole / max(pipe_size, 1e-30)
    stone_gain = rng.uniform(0.004, 0.02) * whole / max(stone_size, 1e-30)
    noise = whole * 10 ** rng.uniform(-3.8, -2.9)
    lines = []
    for n, (said, pipes, stones, _) in enumerate(out):
        late = zero + 0.2 * rng.normal() / ghz0 * 0.3
        turn = np.exp(2j * np.pi * ghz * late)[:, None]
        spectrum = (straight[:, None] + pulse[:, None] * (pipe_gain * pipes + stone_gain * stones)) * turn
        traces = to_time(spectrum)
        hiss = rng.normal(size=traces.shape)
        shape = ricker_spectrum(np.fft.rfftfreq(samples, interval), ghz0)
        hiss = np.fft.irfft(np.fft.rfft(hiss, axis=1) * shape, samples, axis=1)
        traces += noise * hiss / hiss.std() + 0.2 * noise * rng.normal(size=traces.shape)
        line = Line(f"L{n:02d}", traces.astype(np.float32), interval)
        lines.append(PlacedLine(line, said, said[:, 1].copy()))
    return tuple(lines)


def clean(trial: Trial) -> tuple[list[CleanLine], float, np.ndarray]:
    """Condition a trial by the usual recipe; lines, sample interval, gain."""
    interval = trial.lines[0].line.sample_interval_ns
    recipe = choose_recipe(trial.antenna.frequency_mhz, trial.antenna.separation_m, interval)
    done = finish_lines([prepare_line(p, recipe) for p in trial.lines], recipe)
    return list(done[0]) if isinstance(done, tuple) else list(done.lines), recipe.interval_ns, done


def main() -> None:
    """Draw, find the velocity, print a row each and the coverage."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--surveys", type=int, default=20)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows = []
    for number in range(asked.first, asked.first + asked.surveys):
        begun = time.perf_counter()
        trial = draw(number)
        lines, interval, _ = clean(trial)
        found = survey_velocity(lines, interval, trial.antenna, Ground())
        v, sd, true = found.velocity.mean_m_per_ns(), found.velocity.sd_m_per_ns, trial.mean_m_per_ns
        row = {
            "survey": number,
            "mhz": trial.antenna.frequency_mhz,
            "height_m": trial.antenna.height_m,
            "layers": [round(a.velocity_m_per_ns, 4) for a in trial.layers],
            "true": round(true, 4),
            "found": round(v, 4),
            "error_percent": round(100 * (v / true - 1), 2),
            "sigma_percent": round(100 * sd / v, 2),
            "sigmas": round((v - true) / sd, 2),
            "basis": found.choice.basis,
            "hyperbolas": int(found.fits.accepted.sum()),
            "seconds": round(time.perf_counter() - begun, 1),
        }
        rows.append(row)
        print(" ".join(f"{k}={v}" for k, v in row.items()), flush=True)
    off = np.abs([r["sigmas"] for r in rows])
    error = np.abs([r["error_percent"] for r in rows])
    print(
        f"median {np.median(error):.1f} %, worst {error.max():.1f} %; "
        f"within 1 sigma {np.mean(off <= 1):.0%}, within 2 sigma {np.mean(off <= 2):.0%} of {len(rows)}"
    )
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1) + "\n")


if __name__ == "__main__":
    main()
