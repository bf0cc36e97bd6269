"""Surveys for judging `gridmap check`: simulated ones with faults of our own, and the shared ones as site files."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.check_faults import FAULTS, Radar, Walked
from benchmarks.simulate.ground import Ground, Layer
from benchmarks.simulate.objects import Interface, Pipe, Scene, scatter_stones, waving
from benchmarks.simulate.pulse import clean_line
from benchmarks.simulate.walk import Habits, lay_lines, walk_line
from gridmap.read.segy_write import write_segy


@dataclass(frozen=True)
class Soil:
    """A ground and the antenna walked over it."""

    name: str
    layers: tuple[Layer, ...]
    mhz: float
    separation_m: float
    interval_ps: int
    samples: int
    trace_m: float
    noise: float


SOILS = (
    Soil(
        "dry sand",
        (Layer("sand", 0.9, 4.5, 0.5), Layer("gravel", np.inf, 6.5, 1.0)),
        500.0,
        0.12,
        100,
        400,
        0.03,
        5e-4,
    ),
    Soil(
        "loam",
        (Layer("topsoil", 0.35, 9.0, 5.0), Layer("loam", np.inf, 12.0, 8.0)),
        350.0,
        0.16,
        200,
        260,
        0.05,
        8e-4,
    ),
    Soil(
        "wet clay",
        (Layer("made ground", 0.5, 12.0, 15.0), Layer("clay", np.inf, 20.0, 30.0)),
        250.0,
        0.2,
        200,
        300,
        0.05,
        4e-4,
    ),
)
LENGTH_M, SPACING_M, LINES = 9.0, 0.4, 24
_ZERO_NS = 4.0


def make_injected(folder: Path, soil: Soil, seed: int, *, faults: bool = True) -> list[dict[str, object]]:
    """Simulate lines along y, put faults in, write them with a site file; return what was done."""
    rng = np.random.default_rng([seed, 77])
    width = SPACING_M * (LINES - 1)
    scene = _scene(rng, soil, width)
    interval = soil.interval_ps * 1e-3
    radar = Radar(soil.mhz, soil.separation_m, 0.02, interval, _ZERO_NS, soil.noise)
    habits = Habits(soil.trace_m, wheel_error=0.008, wheel_error_sd=0.006, wobble_m=0.012)
    (folder / "lines").mkdir(parents=True, exist_ok=True)
    clock, walked, plans = 1.7e9, [], lay_lines("C", LENGTH_M, width, SPACING_M)
    for name, start, end in plans:
        walk = walk_line(rng, name, start, end, habits, clock)
        clock = walk.time_s[-1] + 30
        zero = _ZERO_NS + 0.1 * rng.normal() + 0.01 * rng.normal(size=len(walk.trigger))
        traces = clean_line(
            scene, walk.mid_m, walk.heading, separation_m=soil.separation_m, centre_mhz=soil.mhz, samples=soil.samples,
            interval_ns=interval, time_zero_ns=zero, source=0.1, direct=1.0, aperture_m=2.0, stone_aperture_m=1.2,
        )  # fmt: skip
        traces = traces * np.exp(0.06 * rng.normal()) * (1 + 0.03 * rng.normal(size=(len(traces), 1)))
        t = interval * np.arange(soil.samples) - _ZERO_NS
        traces += 0.08 * (t > 0) * np.exp(-np.maximum(t, 0) / 8.0) + 0.004 * rng.normal()
        traces += soil.noise * rng.normal(size=traces.shape)
        walked.append(Walked(name, traces, walk.trigger, walk.time_s))
    if faults:
        kinds = list(FAULTS) * 2
        rng.shuffle(kinds)
        for line, kind in zip(rng.permutation(np.arange(1, LINES - 1)), kinds, strict=False):
            FAULTS[kind](rng, walked[int(line)], radar)
        for kind in ("dead", "bump", "gap", "lifted", "bump", "dead"):  # some lines have two
            line = walked[int(rng.integers(1, LINES - 1))]
            if len(line.traces) > 150 and not any(d["first"] is None for d in line.done):
                FAULTS[kind](rng, line, radar)
    for line in walked:
        write_segy(
            folder / "lines" / f"{line.name}.sgy", np.ascontiguousarray(line.traces, np.float32),
            sample_interval_ps=soil.interval_ps, trace_number=line.trigger, time_s=line.time_s,
        )  # fmt: skip
    _site_file(folder, soil, [(name, start, end) for name, start, end in plans], (width, LENGTH_M))
    return [d for line in walked for d in line.done]


def _scene(rng: np.random.Generator, soil: Soil, width: float) -> Scene:
    ground = Ground.lay(*soil.layers)
    pipes = []
    for k in range(5):
        y, tilt = rng.uniform(0.5, LENGTH_M - 0.5), rng.uniform(-2, 2)
        depth = rng.uniform(0.3, 1.1)
        ends = ((-1.0, y, depth), (width + 1.0, y + tilt, depth + rng.uniform(-0.1, 0.1)))
        pipes.append(
            Pipe(*ends, float(rng.uniform(0.02, 0.06)), -1.0 if k % 2 else 0.5, None if k % 2 else 1.0)
        )
    return Scene(
        ground,
        pipes=tuple(pipes),
        interfaces=(Interface(soil.layers[0].thickness_m, 0.0, 0.0, -0.08, waving(rng, 0.015, 1.0, 4.0)),),
        stones=scatter_stones(rng, (width, LENGTH_M), 40.0, (0.1, 1.8), 0.03),
    )


def _site_file(
    folder: Path,
    soil: Soil,
    lines: list[tuple[str, tuple[float, float], tuple[float, float]]],
    size: tuple[float, float],
) -> None:
    rows = [
        f'[site]\nname = "{soil.name}"\nsize_m = [{size[0]}, {size[1]}]\n\n[antenna]\nfrequency_mhz = {soil.mhz}\n'
        f"separation_m = {soil.separation_m}\nheight_m = 0.02\n\n"
        f"[record]\nsample_interval_ns = {soil.interval_ps * 1e-3}\n"
    ]
    rows += [_line_table(f"lines/{name}.sgy", start, end) for name, start, end in lines]
    (folder / "site.toml").write_text("\n".join(rows), encoding="utf-8")


def _line_table(file: str, start: object, end: object) -> str:
    a, b = ([round(float(c), 4) for c in p] for p in (start, end))  # type: ignore[attr-defined]
    return f'[[line]]\nfile = "{file}"\nstart_m = {a}\nend_m = {b}\n'


def site_of_copy(folder: Path) -> Path:
    """Write a site file from the site.json of a shared survey or of a spoilt copy of one, beside its lines."""
    site = json.loads((folder / "site.json").read_text())
    way = {"+x": (1, 0), "-x": (-1, 0), "+y": (0, 1), "-y": (0, -1)}
    rows = [
        f'[site]\nname = "{site["name"]}"\nsize_m = {site["grid"]["size_m"]}\n\n[antenna]\n'
        f"frequency_mhz = {site['nominal_frequency_mhz']}\nseparation_m = {site['antenna_separation_m']}\n"
        f"height_m = {site['antenna_height_m']}\n\n[record]\nsample_interval_ns = {site['sample_interval_ns']}\n"
    ]
    for line in site["lines"]:
        start = line["start_local_m"]
        if "end_local_m" in line:
            rows.append(_line_table(line["file"], start, line["end_local_m"]))
        else:
            toward = [s + w for s, w in zip(start, way[line["walked_along"]], strict=True)]
            rows.append(
                f'[[line]]\nfile = "{line["file"]}"\npositions = "wheel"\nstart_m = {start}\nend_m = {toward}\n'
                f"nominal_spacing_m = {site['nominal_trace_spacing_m']}\n"
            )
    path = folder / "site.toml"
    path.write_text("\n".join(rows), encoding="utf-8")
    return path


def clean_copy(survey: Path, folder: Path) -> Path:
    """Write lines from a shared survey's traces before any fault, within its grid, and a site file."""
    (folder / "lines").mkdir(parents=True, exist_ok=True)
    site = json.loads((survey / "site.json").read_text())
    held = np.load(survey / "clean.npz")
    size = site["grid"]["size_m"]
    rows = [
        f'[site]\nname = "{site["name"]}, clean"\nsize_m = {size}\n\n[antenna]\n'
        f"frequency_mhz = {site['nominal_frequency_mhz']}\nseparation_m = {site['antenna_separation_m']}\n"
        f"height_m = {site['antenna_height_m']}\n\n[record]\nsample_interval_ns = {site['sample_interval_ns']}\n"
    ]
    for line in site["lines"]:
        name, way = line["name"], line["walked_along"]
        u, v = held[f"{name}_u"], held[f"{name}_v"]
        along = "xy".index(way[1])
        inside = (u > -1e-6) & (u < size[along] + 1e-6)
        traces = held[name][inside].astype(np.float32) / float(held["scale"])
        places = np.column_stack([u[inside], v[inside]])
        if way[0] == "-":
            traces, places = traces[::-1], places[::-1]
        places = places if along == 0 else places[:, ::-1]
        write_segy(folder / "lines" / f"{name}.sgy", np.ascontiguousarray(traces), sample_interval_ps=200)
        rows.append(_line_table(f"lines/{name}.sgy", places[0], places[-1]))
    path = folder / "site.toml"
    path.write_text("\n".join(rows), encoding="utf-8")
    return path
