"""The main job on the 20 m reference survey: seconds a stage, peak memory, and the interpolation against griddata.

Usage: python -m benchmarks.whole_job [--scale METRES] [--keep FOLDER]

Makes the survey if FOLDER does not hold it yet (20 m: 371 MB). Prints a table; judges nothing.
"""

from __future__ import annotations

import argparse
import csv
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy.interpolate import griddata

from benchmarks.make_survey_s import make
from gridmap.model import Grid
from gridmap.volume.build import Gridding
from gridmap.volume.likeness import Likeness
from gridmap.volume.sources import plain_sources

SLICES = 256
CELL_M = 0.05


def run_job(site: Path, out: Path) -> tuple[float, float, float]:
    """Map in a process of its own; returns wall and CPU seconds, and peak memory in MiB."""
    started = time.perf_counter()
    done = subprocess.run([sys.executable, "-m", "gridmap", "map", site, "-o", out, "--replace"], check=False)
    wall = time.perf_counter() - started
    if done.returncode not in (0, 1):
        sys.exit(f"gridmap map ended with exit code {done.returncode}")
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def waves(xy: np.ndarray, wavelength_m: float, layers: int) -> np.ndarray:
    """Random ground that is known everywhere: 30 plane waves a layer, (point, layer) float32, RMS 1."""
    rng = np.random.default_rng(7)
    out = np.zeros((len(xy), layers), np.float32)
    for _ in range(30):
        angle, phase = rng.uniform(0, 2 * np.pi, (2, layers))
        k = 2 * np.pi / wavelength_m
        out += np.cos(k * (xy[:, :1] * np.cos(angle) + xy[:, 1:] * np.sin(angle)) + phase).astype(np.float32)
    return out / np.float32(np.sqrt(15))


def compare_interpolation(xy: np.ndarray, size_m: float) -> None:
    """Print time and error of weights for all slices against griddata slice by slice, on the same points."""
    cells = round(size_m / CELL_M) + 1
    grid = Grid(0.0, 0.0, CELL_M, cells, cells)
    target = np.stack(np.meshgrid(grid.x_m(), grid.y_m()), axis=-1).reshape(-1, 2)
    some = 2
    data = waves(xy, 0.6, SLICES)
    likeness = Likeness("matern52", (0.2, 0.2), 0.0, 0.99)
    few = Gridding.over(plain_sources(xy[:500], CELL_M), grid, likeness, 0.2)  # compile before timing
    few.between.apply(few.means.apply(data[:500]))
    started = time.process_time(), time.perf_counter()
    gridding = Gridding.over(plain_sources(xy, CELL_M), grid, likeness, 0.3)
    found = time.process_time(), time.perf_counter()
    ours = gridding.between.apply(gridding.means.apply(data))
    ended = time.process_time(), time.perf_counter()
    begun = time.process_time(), time.perf_counter()
    theirs = np.stack([griddata(xy, data[:, i], target, method="linear") for i in range(some)], axis=1)
    last = time.process_time(), time.perf_counter()
    truth = waves(target, 0.6, SLICES)[:, :some]
    inner = np.all((target > 0.5) & (target < size_m - 0.5), axis=1)

    def error(values: np.ndarray) -> float:
        return float(np.sqrt(np.nanmean((values[inner, :some] - truth[inner]) ** 2)))

    print(f"\ninterpolation, {len(xy)} traces to {cells} x {cells} cells x {SLICES} slices, waves of 0.6 m")
    print(
        "| method | once, CPU s | all slices, CPU s | wall s | RMS error |\n| --- | --: | --: | --: | --: |"
    )
    per_slice = [(b - a) / some for a, b in zip(begun, last, strict=True)]
    cpu, wall = ended[0] - started[0], ended[1] - started[1]
    print(
        f"| local kriging, weights once | {found[0] - started[0]:.2f} | {ended[0] - found[0]:.2f} | {wall:.2f} "
        f"| {error(ours):.3f} |"
    )
    print(
        f"| griddata a slice (measured on {some}) | - | {SLICES * per_slice[0]:.0f} | {SLICES * per_slice[1]:.0f} "
        f"| {error(theirs):.3f} |"
    )
    print(f"\nratio of CPU time, griddata to ours: {SLICES * per_slice[0] / cpu:.0f}")


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--scale", type=float, default=20.0, help="side of the survey in metres")
    ask.add_argument("--keep", type=Path, help="folder for the survey and the map; kept")
    words = ask.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = words.keep or Path(temporary)
        survey = folder / f"survey_{words.scale:g}m"
        if not (survey / "site.toml").exists():
            print(f"making {survey} ...", flush=True)
            make(survey, words.scale)
        wall, cpu, peak = run_job(survey / "site.toml", folder / "map")
        record = json.loads((folder / "map" / "run.json").read_text())
        print("\n| stage | wall s |\n| --- | --: |")
        for stage in record["stages"]:
            print(f"| {stage['name']} | {stage['seconds']:.1f} |")
        print(f"| whole process | {wall:.1f} |\n\n{cpu:.1f} CPU s; peak memory {peak:.0f} MiB")
        with (folder / "map" / "positions.csv").open() as rows:
            xy = np.array([(float(r["x_m"]), float(r["y_m"])) for r in csv.DictReader(rows)])
        compare_interpolation(xy, words.scale)


if __name__ == "__main__":
    main()
