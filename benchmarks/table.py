"""One table of what the speed of gridmap is held to: each row beside a general library doing the same, in one run.

Usage: python -m benchmarks.table [--keep FOLDER] [--only ROW ...]

Makes survey S (20 m square, 162 lines) if FOLDER does not hold it. CPU seconds unless a row says wall; the machine may
be busy with other work, which moves the seconds but hardly the ratios. Prints rows for docs/speed.md; judges nothing.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.interpolate import griddata
from scipy.spatial import cKDTree

from benchmarks import condition_lines, draw_pictures, migrate_lines, write_rasters
from benchmarks.make_survey_s import make
from benchmarks.whole_job import CELL_M, SLICES, run_job, waves
from gridmap.image.migrate import migrate_2d, plan_2d
from gridmap.model import Grid
from gridmap.site.load import load_site
from gridmap.threads import in_parts
from gridmap.volume.build import LINES_AT_ONCE, Gridding
from gridmap.volume.likeness import Likeness
from gridmap.volume.plain import on_triangles
from gridmap.volume.sources import plain_sources

SIZE_M = 20.0
SOME = 2
"""Slices that griddata is measured on; it takes the same for each."""


class Row(NamedTuple):
    """What, our seconds, the contender and its seconds, the goal in words."""

    what: str
    ours: float
    contender: str
    theirs: float
    goal: str


def spent(act: Callable[[], object], clock: Callable[[], float] = time.process_time, times: int = 1) -> float:
    """Least seconds of several runs."""
    best = np.inf
    for _ in range(times):
        began = clock()
        act()
        best = min(best, clock() - began)
    return best


def jittered_places() -> np.ndarray:
    """Traces 0.02 m apart on lines 0.25 m apart, both ways, 1 cm off at random, (trace, 2) metres."""
    along, across = np.arange(0.0, SIZE_M, 0.02), np.arange(0.0, SIZE_M + 0.01, 0.25)
    one = np.stack(np.meshgrid(across, along), axis=-1).reshape(-1, 2)
    xy = np.concatenate([one, one[:, ::-1]])
    return np.asarray(xy + np.random.default_rng(5).normal(0.0, 0.01, xy.shape))


def interpolation() -> Iterator[Row]:
    """All slices at once against griddata slice by slice."""
    xy = jittered_places()
    cells = round(SIZE_M / CELL_M) + 1
    grid = Grid(0.0, 0.0, CELL_M, cells, cells)
    target = np.stack(np.meshgrid(grid.x_m(), grid.y_m()), axis=-1).reshape(-1, 2)
    known = waves(xy, 0.6, SOME)
    data = np.tile(known, (1, SLICES // SOME))
    truth = waves(target, 0.6, SOME)
    inner = np.all((target > 0.5) & (target < SIZE_M - 0.5), axis=1)
    likeness = Likeness("matern52", (0.2, 0.2), 0.0, 0.99)
    few = Gridding.over(plain_sources(xy[:500], CELL_M), grid, likeness, 0.2)  # compile before timing
    few.between.apply(few.means.apply(data[:500]))

    began = time.process_time()
    theirs = [griddata(xy, known[:, k], target, method="linear") for k in range(SOME)]
    by_griddata = (time.process_time() - began) * SLICES / SOME

    rows = np.flatnonzero(np.isfinite(cKDTree(xy).query(target, distance_upper_bound=0.3)[0]))
    began = time.process_time()
    triangles = on_triangles(xy, target, rows)
    mapped = triangles.apply(data)
    yield Row(
        "256 slices on triangles", time.process_time() - began, "griddata a slice", by_griddata, ">= 100"
    )
    both = np.isfinite(mapped[:, 0]) & np.isfinite(theirs[0])
    off = float(np.abs(mapped[both, 0] - theirs[0][both]).max())
    print(f"(same result: largest difference {off:.1e} of fields of RMS 1, {both.mean():.1%} of the cells)")

    began = time.process_time()
    gridding = Gridding.over(plain_sources(xy, CELL_M), grid, likeness, 0.3)
    found = time.process_time()
    kriged = gridding.between.apply(gridding.means.apply(data))
    ended = time.process_time()
    yield Row("256 slices by local kriging", ended - began, "griddata a slice", by_griddata, ">= 40")
    print(f"(kriging weights {found - began:.2f} s, product {ended - found:.2f} s)")

    def error(values: np.ndarray, k: int) -> float:
        return float(np.sqrt(np.nanmean((values[inner] - truth[inner, k]) ** 2)))

    yield Row("RMS error of kriging", error(kriged[:, 0], 0), "griddata", error(theirs[0], 0), ">= 2")
    source = np.empty_like(data)
    half = data.nbytes + mapped.nbytes

    def copy(first: int, last: int) -> None:
        np.copyto(source[first:last], data[first:last])

    wall = time.perf_counter
    moved = 2 * data.nbytes / spent(lambda: in_parts(copy, len(data)), wall, 5)
    weighing = spent(lambda: triangles.apply(data), wall, 5)
    yield Row("the weighted sum alone, wall", weighing, "moving as many bytes", half / moved, ">= 1/4")


def files() -> Iterator[Row]:
    """Rasters and the volume against bare libraries."""
    for name, ours, bare in write_rasters.compare_all():
        yield Row(
            f"{name}, wall", ours, "bare zarr" if "volume" in name else "bare rasterio", bare, ">= 1/1.3"
        )


def pictures() -> Iterator[Row]:
    """Slice pictures against figures."""
    ours, figure, *_ = draw_pictures.compare_all().values()
    yield Row("a slice picture with axes, wall", ours / 1e3, "matplotlib figure", figure / 1e3, ">= 5")


def conditioning(survey: Path) -> Iterator[Row]:
    """Conditioning and envelope against the SciPy chain."""
    site = load_site(survey / "site.toml")
    ours, theirs, worst = condition_lines.compare(site, site.lines[::2])
    yield Row("conditioning and envelope of 81 lines", ours, "SciPy chain", theirs, ">= 5")
    print(f"(largest difference of envelopes {100 * worst:.2f} % of the peak)")


def migration(survey: Path) -> Iterator[Row]:
    """2D migration against a textbook sum."""
    lines = migrate_lines.load_lines(survey, SIZE_M)
    depth_m = 0.01 * np.arange(256)
    few = (migrate_lines.INTERVAL_NS, migrate_lines.SEPARATION_M, migrate_lines.CONSTANT, depth_m)
    migrate_2d(lines[:2], plan_2d(lines[:2], *few, CELL_M))  # compile before timing

    def all_lines() -> None:
        plan = plan_2d(lines, *few, CELL_M)
        for first in range(0, len(lines), LINES_AT_ONCE):  # as the main job does
            migrate_2d(lines[first : first + LINES_AT_ONCE], plan)

    ours = spent(all_lines, times=3)
    posts = np.arange(0.0, SIZE_M, 2.0)
    part = spent(lambda: migrate_lines.textbook_2d(lines[0], depth_m, posts))
    theirs = part * len(lines) * (SIZE_M / CELL_M + 1) / len(posts)
    yield Row("2D migration of all lines", ours, "textbook NumPy sum, scaled", theirs, ">= 60")


def whole_job(survey: Path, folder: Path) -> None:
    """Print the stages of the whole job on survey S, compiled kernels at hand."""
    wall, cpu, peak = run_job(survey / "site.toml", folder / "map")
    record = json.loads((folder / "map" / "run.json").read_text())
    print("\n| stage | wall s |\n| --- | --: |")
    for stage in record["stages"]:
        print(f"| {stage['name']} | {stage['seconds']:.1f} |")
    print(f"| whole process | {wall:.1f} |\n\n{cpu:.1f} CPU s; peak memory {peak:.0f} MiB")


def main() -> None:
    """Measure and print."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--keep", type=Path, help="folder for the survey and the map; kept")
    ask.add_argument(
        "--only", nargs="+", default=(), help="interpolation files pictures conditioning migration job"
    )
    words = ask.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = words.keep or Path(temporary)
        survey = folder / "survey_20m"
        if not (survey / "site.toml").exists():
            print(f"making {survey} ...", flush=True)
            make(survey, SIZE_M)
        parts: dict[str, Callable[[], Iterator[Row]]] = {
            "interpolation": interpolation,
            "files": files,
            "pictures": pictures,
            "conditioning": lambda: conditioning(survey),
            "migration": lambda: migration(survey),
        }
        table = [
            "| what | gridmap s | contender | its s | ratio | goal |",
            "| --- | --: | --- | --: | --: | --- |",
        ]
        for name, part in parts.items():
            if words.only and name not in words.only:
                continue
            for row in part():
                ratio = row.theirs / row.ours
                table.append(
                    f"| {row.what} | {row.ours:.3g} | {row.contender} | {row.theirs:.3g} | {ratio:.3g} | {row.goal} |"
                )
                print(table[-1], flush=True)
        print("\n" + "\n".join(table))
        if not words.only or "job" in words.only:
            whole_job(survey, folder)
        print(f"\n{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
