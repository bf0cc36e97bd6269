"""Migration of the 20 m reference survey against plain code for the same sums, in one run.

Usage: python -m benchmarks.migrate_lines [--keep FOLDER] [--scale METRES]

Makes survey S if FOLDER does not hold it. Contenders: a textbook Kirchhoff sum in NumPy for 2D; a plain compiled
loop over scattered traces for 3D; the bare transforms of the padded cube (scipy.fft) for Stolt. The plain codes are
measured on a part and scaled up, which the table says. CPU seconds of both cores together. Judges nothing.
"""

from __future__ import annotations

import argparse
import math
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numba
import numpy as np
from scipy import fft

from benchmarks.make_survey_s import CENTRE_MHZ, INTERVAL_PS, SAMPLES, SEPARATION_M, SPACING_M, TRACE_M, make
from benchmarks.simulate.walk import lay_lines
from gridmap.image.migrate import migrate_2d, migrate_3d, plan_2d
from gridmap.image.stolt import migrate_stolt
from gridmap.model import CleanLine, Float32, Grid, VelocityModel
from gridmap.read.sniff import read_line
from gridmap.volume.build import LINES_AT_ONCE

CELL_M, V = 0.05, 0.1
INTERVAL_NS = INTERVAL_PS * 1e-3
REACH_M = 1.5
CONSTANT = VelocityModel.constant(V, 0.0, "")
LAYERS = VelocityModel(np.array([0.0, 0.3, 1.5]), np.array([0.11, 0.1, 0.08]), 0.0, "")


def load_lines(folder: Path, side_m: float) -> list[CleanLine]:
    """Read survey S, each line straight from peg to peg."""
    out = []
    plans = lay_lines("Y", side_m, side_m, SPACING_M) + lay_lines("X", side_m, side_m, SPACING_M, along="x")
    for name, start, end in plans:
        traces = read_line(
            folder / "lines" / f"{name}.sgy", name=name, sample_interval_ns=INTERVAL_NS, layouts=()
        ).traces
        traces = in_band(traces)
        along = np.minimum(TRACE_M * np.arange(len(traces)), side_m + 1e-6 * np.arange(len(traces)))
        run = (np.array(end) - start) / side_m
        out.append(
            CleanLine(
                name, np.array(start) + along[:, None] * run, along, traces, np.ones(len(traces), bool), 0.0
            )
        )
    return out


def in_band(traces: Float32) -> Float32:
    """Keep what the main job's band-pass keeps: 0.35 to 2 times the antenna's frequency."""
    mhz = fft.rfftfreq(traces.shape[1], INTERVAL_NS) * 1e3
    keep = (mhz > 0.35 * CENTRE_MHZ) & (mhz < 2 * CENTRE_MHZ)
    return np.asarray(fft.irfft(fft.rfft(traces, axis=1) * keep, traces.shape[1], axis=1), dtype=np.float32)


def cpu(work: Callable[[], object]) -> tuple[float, float]:
    """CPU and wall seconds of a piece of work."""
    began = time.process_time(), time.perf_counter()
    work()
    return time.process_time() - began[0], time.perf_counter() - began[1]


def textbook_2d(line: CleanLine, depth_m: np.ndarray, posts: np.ndarray) -> np.ndarray:
    """Sum along hyperbolas, a post at a time, all depths and traces at once: NumPy as a textbook writes it."""
    out = np.zeros((len(posts), len(depth_m)))
    tangent = 1.0
    for i, x in enumerate(posts):
        near = np.abs(line.along_m - x) <= min(REACH_M, depth_m[-1] * tangent)
        dx = line.along_m[near] - x
        part = line.traces[near]
        legs = [np.hypot(dx + s * SEPARATION_M, depth_m[:, None]) for s in (-0.5, 0.5)]
        sample = np.rint((legs[0] + legs[1]) / (V * INTERVAL_NS)).astype(int)
        weight = np.maximum(1 - (dx / np.maximum(depth_m[:, None] * tangent, CELL_M)) ** 2, 0)
        weight = weight * depth_m[:, None] / (legs[0] + 1e-9) * (sample < SAMPLES)
        value = part[np.arange(len(dx)), np.minimum(sample, SAMPLES - 1)]
        out[i] = (weight * value).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-9)
    return out


@numba.njit(parallel=True, fastmath=True)
def plain_3d(xy, traces, run, cells, depth_m, v, interval, separation, reach):  # type: ignore[no-untyped-def]
    """Loop over cells, depths and traces: what a compiled language writes first."""
    out = np.zeros((len(cells), len(depth_m)), np.float32)
    for c in numba.prange(len(cells)):
        for k in range(len(depth_m)):
            z = depth_m[k]
            most = min(max(z, 0.1), reach) ** 2
            total, fold = 0.0, 0.0
            for i in range(len(xy)):
                dx, dy = xy[i, 0] - cells[c, 0], xy[i, 1] - cells[c, 1]
                near = dx * dx + dy * dy
                if near > most:
                    continue
                ex, ey = 0.5 * separation * run[i, 0], 0.5 * separation * run[i, 1]
                a = np.sqrt((dx - ex) ** 2 + (dy - ey) ** 2 + z * z)
                b = np.sqrt((dx + ex) ** 2 + (dy + ey) ** 2 + z * z)
                sample = int((a + b) / (v * interval) + 0.5)
                if sample < traces.shape[1]:
                    w = (1 - near / most) * 2 * z / (a + b + 1e-9)
                    total += w * traces[i, sample]
                    fold += w
            out[c, k] = total / max(fold, 1e-9)
    return out


def scattered_3d(lines: list[CleanLine], depth_m: np.ndarray, cells: np.ndarray) -> None:
    """Run the plain loop on some cells; only traces within reach of each line of cells are offered to it."""
    low, high = cells.min(axis=0) - REACH_M, cells.max(axis=0) + REACH_M
    xy = np.concatenate([ln.xy_m for ln in lines])
    run = np.concatenate(
        [np.repeat((ln.xy_m[-1:] - ln.xy_m[:1]) / ln.along_m[-1], len(ln.xy_m), 0) for ln in lines]
    )
    near = np.all((xy > low) & (xy < high), axis=1)
    traces = np.concatenate([ln.traces for ln in lines])[near]
    plain_3d(xy[near], traces, run[near], cells, depth_m, V, INTERVAL_NS, SEPARATION_M, REACH_M)


def peak_mib() -> float:
    """Peak memory of this process so far, MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def row(name: str, ours: tuple[float, float], theirs: tuple[str, float] | None = None) -> None:
    text = f"| {name} | {ours[0]:.2f} | {ours[1]:.2f} | "
    if theirs is None:
        print(text + "- | - | - |", flush=True)
    else:
        print(text + f"{theirs[0]} | {theirs[1]:.1f} | {theirs[1] / ours[0]:.2f} |", flush=True)


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--keep", type=Path, help="folder for the survey; kept")
    ask.add_argument("--scale", type=float, default=20.0, help="side of the survey in metres")
    words = ask.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = (words.keep or Path(temporary)) / f"survey_{words.scale:g}m"
        if not (folder / "site.toml").exists():
            make(folder, words.scale)
        lines = load_lines(folder, words.scale)
    cells = round(words.scale / CELL_M) + 1
    grid = Grid(0.0, 0.0, CELL_M, cells, cells)
    depth_m = 0.01 * np.arange(256)
    short = [
        CleanLine(ln.name, ln.xy_m[:60], ln.along_m[:60], ln.traces[:60], ln.usable[:60], 0.0)
        for ln in lines[:3]
    ]
    small = Grid(0.0, 0.0, CELL_M, 12, 12)
    migrate_3d(short, INTERVAL_NS, SEPARATION_M, CONSTANT, small, depth_m[:9])  # compile before timing
    migrate_2d(short, plan_2d(short, INTERVAL_NS, SEPARATION_M, CONSTANT, depth_m[:9], CELL_M))
    migrate_stolt(np.ones((6, 6, 64), np.float32), (CELL_M, CELL_M), INTERVAL_NS, V, depth_m[:9])
    scattered_3d(lines[:3], depth_m[:9], np.zeros((2, 2)))
    traces = sum(len(ln.traces) for ln in lines)
    print(
        f"{len(lines)} lines, {traces} traces of {SAMPLES} samples, {cells} x {cells} cells, {len(depth_m)} depths; "
        f"held in memory before: {peak_mib():.0f} MiB\n"
    )
    print("| job | CPU s | wall s | against | its CPU s | ratio |\n| --- | --: | --: | --- | --: | --: |")

    def all_2d(model: VelocityModel) -> None:
        plan = plan_2d(lines, INTERVAL_NS, SEPARATION_M, model, depth_m, CELL_M)
        for a in range(0, len(lines), LINES_AT_ONCE):
            migrate_2d(lines[a : a + LINES_AT_ONCE], plan)

    posts = CELL_M * np.arange(180, 220)
    part = cpu(lambda: textbook_2d(lines[3], depth_m, posts))[0]
    flat = cpu(lambda: all_2d(CONSTANT))
    row(
        "2D, all lines",
        flat,
        ("NumPy textbook sum, 40 posts of a line, scaled", part * len(lines) * cells / len(posts)),
    )
    row("2D, three layers", cpu(lambda: all_2d(LAYERS)), ("2D at one velocity", flat[0]))
    patch = np.stack(np.meshgrid(*2 * [CELL_M * np.arange(cells // 2, cells // 2 + 6)]), axis=-1).reshape(
        -1, 2
    )
    plain = cpu(lambda: scattered_3d(lines, depth_m, patch))[0] * cells**2 / len(patch)
    flat = cpu(lambda: migrate_3d(lines, INTERVAL_NS, SEPARATION_M, CONSTANT, grid, depth_m))
    row("3D Kirchhoff, both ways merged", flat, ("plain compiled loop, 36 cells, scaled", plain))
    print(f"\npeak memory so far, survey included: {peak_mib():.0f} MiB\n")
    layered = cpu(lambda: migrate_3d(lines, INTERVAL_NS, SEPARATION_M, LAYERS, grid, depth_m))
    row("3D, three layers", layered, ("3D at one velocity", flat[0]))
    cube = np.zeros((cells, cells, SAMPLES), np.float32)
    for k, line in enumerate(lines[: cells // 5]):
        cube[:, min(5 * k, cells - 1)] = line.traces[np.minimum(np.arange(cells) * 2, len(line.traces) - 1)]
    wide = int(fft.next_fast_len(cells + math.ceil(1.0 / CELL_M)))
    ours = cpu(
        lambda: migrate_stolt(cube, (CELL_M, CELL_M), INTERVAL_NS, V, depth_m, separation_m=SEPARATION_M)
    )
    print(f"\npeak memory so far: {peak_mib():.0f} MiB\n")
    row("3D Stolt", ours, ("bare rfftn and irfftn of the padded cube", cpu(lambda: bare(cube, wide))[0]))


def bare(cube: Float32, wide: int) -> Float32:
    """Transform the cube to frequency and wave number and back, padded as Stolt's method asks."""
    shape = (wide, wide, int(fft.next_fast_len(2 * cube.shape[2], real=True)))
    return np.asarray(fft.irfftn(fft.rfftn(cube, shape, workers=2), shape, workers=2))


if __name__ == "__main__":
    main()
