"""Make the reference survey "L" of a multi-channel array: `python -m benchmarks.make_survey_l FOLDER [--side M]`.

A square (50 m: a quarter hectare; `--side 100`: a hectare) covered by swaths of 16 channels 0.08 m apart,
a trace each 0.05 m, 512 samples of 0.1 ns: 0.7 million traces and 1.7 GB a quarter hectare. Neighbouring
swaths share two channels' ground, and every second one was driven back. The square was done in blocks, a day
each, that overlap by half a swath; each block has its own gain, each channel its own gain and delay, and its
antennas couple directly by a strength that says nothing of how well they hear echoes. Channels are SEG-Y files of
their own (`B1_S001_C01.sgy`). ground.json says what lies where and what each channel, swath and block does to the
signal. The same options give the same bytes.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from benchmarks.simulate import array_echoes as echoes
from benchmarks.simulate.ground import LIGHT_M_PER_NS
from benchmarks.simulate.objects import NO_POINTS, Points, scatter_stones, waving
from benchmarks.simulate.survey_files import Frame
from gridmap.files import write_text
from gridmap.read.segy_write import write_segy

TRACE_M, CHANNEL_M = 0.05, 0.08
CENTRE_MHZ, SEPARATION_M = 400.0, 0.14
SAMPLES, INTERVAL_PS = 512, 100
PERMITTIVITY, LOSS_NP_PER_M = 9.0, 0.25
SOURCE, NOISE, TIME_ZERO_NS = 0.1, 5e-4, 2.5
APERTURE_M, STONE_APERTURE_M = 2.0, 1.0
WOBBLE_M, PACE_M_PER_S = 0.02, 1.5
FRAME = Frame(easting_m=512300.0, northing_m=5389120.0, rotation_deg=12.0)


@dataclass(frozen=True, slots=True)
class Ground:
    """What was laid: pipes (start, end, radius, reflection), tanks as surface points, stones, two boundaries."""

    pipes: list[tuple[np.ndarray, np.ndarray, float, float]]
    tanks: Points
    stones: Points
    boundaries: list[tuple[float, np.ndarray, float]]
    said: list[dict[str, object]]


@dataclass(frozen=True, slots=True)
class Swath:
    """One pass of the array: its middle's pegs, its block, and whether it was driven in -y."""

    name: str
    block: int
    x_m: float
    back: bool


def velocity_m_per_ns() -> float:
    """Velocity of the one ground."""
    return LIGHT_M_PER_NS / PERMITTIVITY**0.5


def lay_ground(side_m: float) -> Ground:
    """Draw pipes, tanks, stones and boundaries: as many to the hectare for any side."""
    rng = np.random.default_rng([5001, 0])
    pipes, said = [], []
    for k in range(max(3, round(side_m * 0.24))):
        # Every third lies nearly along the driving: what a background removal or a levelling may erase.
        angle = np.pi / 2 + rng.normal(0, 0.01) if k % 3 == 0 else rng.uniform(0, np.pi)
        middle, half = rng.uniform(0.1, 0.9, 2) * side_m, rng.uniform(0.2, 0.6) * side_m
        run, depth = np.array([np.cos(angle), np.sin(angle)]), rng.uniform(0.45, 1.3)
        ends = [
            np.array([*(middle + sign * half * run), depth + sign * rng.uniform(0, 0.1)]) for sign in (-1, 1)
        ]
        radius, metal = float(rng.uniform(0.03, 0.1)), bool(k % 2 == 0)
        pipes.append((ends[0], ends[1], radius, -1.0 if metal else 0.5))
        said.append(
            {
                "type": "pipe",
                "metal": metal,
                "radius_m": round(radius, 3),
                "axis_local_m": np.round(ends, 3).tolist(),
            }
        )
    tanks = NO_POINTS
    for _ in range(max(1, round(side_m**2 * 0.003))):
        centre, size = rng.uniform(0.05, 0.95, 2) * side_m, (rng.uniform(1.2, 3.0), rng.uniform(0.9, 1.6))
        yaw, depth = float(rng.uniform(0, 180)), float(rng.uniform(0.5, 1.0))
        tanks += _plate(centre, size, yaw, depth)
        said.append(
            {
                "type": "box",
                "centre_m": np.round(centre, 3).tolist(),
                "size_m": np.round(size, 3).tolist(),
                "yaw_deg": round(yaw, 1),
                "depth_m": round(depth, 3),
            }
        )
    boundaries = [(0.35, waving(rng, 0.015, 1.0, 8.0), -0.03), (1.7, waving(rng, 0.06, 3.0, 25.0), -0.1)]
    stones = scatter_stones(rng, (side_m, side_m), 8.0, (0.15, 1.6), 0.006)
    return Ground(pipes, tanks, stones, boundaries, said)


def _plate(centre: np.ndarray, size_m: tuple[float, float], yaw_deg: float, depth_m: float) -> Points:
    """Cut a metal top into surface elements of about 5 cm; weights as in `objects.surface_patch`."""
    count = [max(2, round(s / 0.05)) for s in size_m]
    u, v = (((np.arange(n) + 0.5) / n - 0.5) * s for n, s in zip(count, size_m, strict=True))
    u, v = (a.ravel() for a in np.meshgrid(u, v, indexing="ij"))
    cos, sin = np.cos(np.radians(yaw_deg)), np.sin(np.radians(yaw_deg))
    place = np.stack(
        [centre[0] + cos * u - sin * v, centre[1] + sin * u + cos * v, np.full(u.shape, depth_m)], axis=1
    )
    area = size_m[0] * size_m[1] / len(u)
    return Points(place, np.full(len(u), -area / (2 * np.pi * velocity_m_per_ns())))


def lay_swaths(side_m: float, channels: int, shared: int, blocks: int) -> list[Swath]:
    """Cover the square block by block; neighbours share `shared` channels' ground, blocks half a swath's."""
    step, half = (channels - shared) * CHANNEL_M, 0.5 * (channels - 1) * CHANNEL_M
    swaths: list[Swath] = []
    for block in range(blocks):
        first = half if block == 0 else swaths[-1].x_m + 0.5 * channels * CHANNEL_M
        end = side_m * (block + 1) / blocks - half
        count = max(1, int(np.ceil(round((end - first) / step, 6))) + 1)
        for k in range(count):
            n = len(swaths)
            swaths.append(Swath(f"B{block + 1}_S{n + 1:03d}", block, round(first + k * step, 4), bool(n % 2)))
    return swaths


def channel_faults(channels: int, swaths: int, blocks: int) -> dict[str, np.ndarray]:
    """Draw gains and delays: of channels for good, of blocks by the day, of swaths a little."""
    rng = np.random.default_rng([5001, 1])
    return {
        "channel_gain": np.exp(0.25 * rng.normal(size=channels)),
        "channel_coupling": np.exp(0.2 * rng.normal(size=channels)),
        "channel_delay_ns": 0.15 * rng.normal(size=channels),
        "block_gain": np.exp(0.35 * rng.normal(size=blocks)),
        "block_delay_ns": 0.1 * rng.normal(size=blocks),
        "swath_gain": np.exp(0.05 * rng.normal(size=swaths)),
        "swath_delay_ns": 0.03 * rng.normal(size=swaths),
    }


def drive(swath: Swath, index: int, side_m: float, channels: int) -> tuple[np.ndarray, np.ndarray]:
    """Return true mid-points (channel, trace, 2) and the heading; channel 1 is leftmost, looking ahead."""
    rng = np.random.default_rng([5002, index])
    along = np.arange(0.0, side_m + 1e-9, TRACE_M)
    heading = np.array([0.0, -1.0 if swath.back else 1.0])
    sway = sum(
        WOBBLE_M * rng.normal() / 2**0.5 * np.cos(2 * np.pi * along / w + rng.uniform(0, 2 * np.pi))
        for w in (7.0, 19.0)
    )
    y = side_m - along if swath.back else along
    left = np.array([-heading[1], heading[0]])
    aside = ((channels - 1) / 2 - np.arange(channels)) * CHANNEL_M
    middle = np.stack([swath.x_m + sway, y], axis=1)
    return middle[None] + aside[:, None, None] * left, heading


def record(
    ground: Ground, swath: Swath, index: int, side_m: float, faults: dict[str, np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """Simulate one swath: samples (channel, trace, sample) float32, and seconds from its start (trace,)."""
    channels, interval = len(faults["channel_gain"]), INTERVAL_PS * 1e-3
    mid, heading = drive(swath, index, side_m, channels)
    src, rec = mid - heading * SEPARATION_M / 2, mid + heading * SEPARATION_M / 2
    rng = np.random.default_rng([5003, index])
    zero_ns = TIME_ZERO_NS + faults["channel_delay_ns"] + faults["block_delay_ns"][swath.block]
    zero = (zero_ns + faults["swath_delay_ns"][index]) / interval
    per_m = 1 / velocity_m_per_ns() / interval
    pulse, slope, direct = echoes.tables(CENTRE_MHZ * 1e-3, interval, SEPARATION_M, velocity_m_per_ns())
    before, out = pulse.shape[1] // 2, np.zeros((*mid.shape[:2], SAMPLES), np.float32)
    for points, table, reach in ((ground.stones, pulse, STONE_APERTURE_M), (ground.tanks, slope, APERTURE_M)):
        near = np.abs(points.xyz_m[:, 0] - swath.x_m) < reach + 1.0
        echoes.lay_points(
            out,
            src,
            rec,
            zero,
            points.xyz_m[near],
            points.strength[near],
            table,
            before,
            per_m,
            LOSS_NP_PER_M,
            reach,
        )
    for start, end, radius, reflection in ground.pipes:
        args = (start, end, radius, reflection, pulse, before, per_m, LOSS_NP_PER_M, APERTURE_M)
        echoes.lay_pipe(out, src, rec, zero, *args)
    for depth, waves, reflection in ground.boundaries:
        echoes.lay_interface(out, mid, zero, depth, waves, reflection, pulse, before, per_m, LOSS_NP_PER_M)
    out *= np.float32(SOURCE)
    place = zero[:, None] + rng.normal(0, 0.01 / interval, mid.shape[:2])
    echoes.lay_direct(out, place, faults["channel_coupling"], direct, before)
    # Ringing of each channel's own shell, the same all along, and the slow undershoot after the direct wave.
    late = np.clip(np.arange(SAMPLES) * interval - zero_ns[:, None], 0, None)
    tones = np.random.default_rng([5001, 2]).uniform([0.25, 0, 6], [0.45, 2 * np.pi, 14], (channels, 3))
    ring = 0.006 * np.cos(2 * np.pi * tones[:, :1] * late + tones[:, 1:2]) * np.exp(-late / tones[:, 2:])
    wow = 0.1 * (late > 0) * (np.exp(-late / 8.5) - 1.7 * np.exp(-late / 3.0))
    out += (ring * np.minimum(1, late) + wow).astype(np.float32)[:, None]
    gain = faults["channel_gain"] * faults["block_gain"][swath.block] * faults["swath_gain"][index]
    out *= gain.astype(np.float32)[:, None, None]
    for channel in out:
        channel += np.float32(NOISE) * rng.standard_normal(channel.shape, dtype=np.float32)
    return out, np.arange(out.shape[1]) * TRACE_M / PACE_M_PER_S


def site_file(side_m: float, swaths: list[Swath], channels: int) -> str:
    """Write the site file: a rule a block."""
    corners = (("A", 0.0, 0.0), ("B", side_m, 0.0), ("C", side_m, side_m), ("D", 0.0, side_m))
    control = "".join(
        f'[[control]]\nname = "{name}"\nlocal_m = [{x}, {y}]\nmap_m = {list(FRAME.to_map(x, y))}\n\n'
        for name, x, y in corners
    )
    width = round(swaths[-1].x_m + 0.5 * channels * CHANNEL_M, 3)
    rules = []
    for block in sorted({swath.block for swath in swaths}):
        mine = [swath for swath in swaths if swath.block == block]
        first, last = (side_m, 0.0) if mine[0].back else (0.0, side_m)
        rules.append(
            f'[[swaths]]\nfiles = "lines/B{block + 1}_S*_C*.sgy"\nchannels = {channels}\n'
            f"channel_spacing_m = {CHANNEL_M}\nfirst_start_m = [{mine[0].x_m}, {first}]\n"
            f"first_end_m = [{mine[0].x_m}, {last}]\n"
        )
        if len(mine) > 1:
            rules.append(f"step_m = [{round(mine[1].x_m - mine[0].x_m, 4)}, 0.0]\nzigzag = true\n")
        rules.append("\n")
    return (
        "# Reference survey L: invented and simulated, for runs at scale.\n"
        f'[site]\nname = "Survey L, {side_m:g} m"\ncrs = "EPSG:32633"\nsize_m = [{max(width, side_m)}, {side_m}]\n\n'
        f"{control}[antenna]\nfrequency_mhz = {CENTRE_MHZ:g}\nseparation_m = {SEPARATION_M}\n\n"
        f"[record]\nsample_interval_ns = {INTERVAL_PS * 1e-3:g}\n\n{''.join(rules)}"
    )


def make(
    folder: Path, side_m: float, channels: int = 16, shared: int = 2, blocks: int = 2
) -> tuple[int, int]:
    """Simulate the survey swath by swath and write it into `folder`; return the counts of lines and traces."""
    ground, swaths = lay_ground(side_m), lay_swaths(side_m, channels, shared, blocks)
    faults = channel_faults(channels, len(swaths), blocks)
    (folder / "lines").mkdir(parents=True, exist_ok=True)
    days = [datetime(2024, 6, 10 + block, 8, 0, tzinfo=UTC).timestamp() for block in range(blocks)]
    traces = 0
    for index, swath in enumerate(swaths):
        samples, seconds = record(ground, swath, index, side_m, faults)
        for c, channel in enumerate(samples):
            write_segy(
                folder / "lines" / f"{swath.name}_C{c + 1:02d}.sgy",
                channel,
                sample_interval_ps=INTERVAL_PS,
                time_s=days[swath.block] + seconds,
                text=("Invented and simulated: reference survey L", f"swath {swath.name} channel {c + 1}"),
            )
        days[swath.block] += seconds[-1] + 20
        traces += samples.shape[0] * samples.shape[1]
    write_text(folder / "site.toml", site_file(side_m, swaths, channels))
    truth = {
        "side_m": side_m,
        "velocity_m_per_ns": round(velocity_m_per_ns(), 5),
        "objects": ground.said,
        "swaths": [{"name": s.name, "block": s.block, "x_m": s.x_m, "back": s.back} for s in swaths],
        "faults": {name: np.round(values, 4).tolist() for name, values in faults.items()},
    }
    write_text(folder / "ground.json", json.dumps(truth, indent=1) + "\n")
    return len(swaths) * channels, traces


def main() -> None:
    """Read the command line, make the survey, say what it took."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, help="where the survey goes; made if it is not there")
    parser.add_argument(
        "--side", type=float, default=50.0, metavar="M", help="side of the square, metres (50)"
    )
    parser.add_argument("--channels", type=int, default=16, help="of the array (16)")
    parser.add_argument("--shared", type=int, default=2, help="channels that neighbouring swaths share (2)")
    parser.add_argument("--blocks", type=int, default=2, help="blocks, a day each (2)")
    asked = parser.parse_args()
    if asked.side < 3 or not 1 <= asked.channels <= 64 or not 0 <= asked.shared < asked.channels:
        parser.error("--side must be 3 m or more, --channels 1 to 64, --shared fewer than the channels")
    if not 1 <= asked.blocks <= 10:
        parser.error("--blocks must be 1 to 10")
    begun = time.perf_counter()
    lines, traces = make(asked.folder, asked.side, asked.channels, asked.shared, asked.blocks)
    size = sum(p.stat().st_size for p in asked.folder.rglob("*") if p.is_file())
    took = time.perf_counter() - begun
    print(f"{asked.folder}: {lines} lines, {traces} traces, {size / 1e6:.0f} MB in {took:.1f} s")


if __name__ == "__main__":
    main()
