"""Time `read_segy` beside segyio (memory-mapped) and a bare `numpy.memmap` + `astype`, in one run.

Usage: python -m benchmarks.read_lines [--rounds N] [--traces N] [--samples N] [--lines N] [--site SITE.toml]

Makes SEG-Y files of random samples in a temporary folder (about 40 MB in all), in IEEE and in IBM floats, and
reads them in turns, so that a busy moment of the machine falls on all contenders alike. The files are in the page
cache. CPU time; medians. read_segy reads the trace headers and checks every sample too; the bare one does not.
Goals: IEEE at most 1.3 times memmap + astype; IBM at most 0.9 times segyio. With --site (such as that of
`benchmarks.make_survey_s`) the lines of that survey are read and placed, one held at a time; goal: at most 1.5
times segyio reading the same files.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import segyio

from gridmap.pipeline.frame import map_frame
from gridmap.pipeline.map_site import STAGES
from gridmap.pipeline.read_lines import placed_lines, shared_places
from gridmap.pipeline.run import Run, quiet
from gridmap.read import read_segy, write_segy
from gridmap.site.load import load_site
from gridmap.site.records import Site


def bare(path: Path, samples: int) -> np.ndarray:
    """The least that reading IEEE samples can be: map the file, swap the bytes."""
    record = np.dtype([("head", "V240"), ("samples", ">f4", samples)])
    return np.memmap(path, dtype=record, mode="r", offset=3600)["samples"].astype(np.float32)


def by_segyio(path: Path) -> np.ndarray:
    """The reference library at its fastest."""
    with segyio.open(path, ignore_geometry=True) as file:
        file.mmap()
        return file.trace.raw[:]


def read_and_place(site: Site) -> int:
    """Read and place every line of a survey, and let each go; the number of traces."""
    run = Run(quiet, STAGES)
    survey = shared_places(site, map_frame(site, run), run)
    return sum(len(known.line.xy_m) for known in placed_lines(site, survey))


def compare_site(site: Site, rounds: int) -> None:
    """Time reading and placing beside segyio reading the same files."""
    medians = in_turns(
        {
            "read and place": lambda: read_and_place(site),
            "segyio mmap": lambda: sum(len(by_segyio(plan.file)) for plan in site.lines),
        },
        rounds,
    )
    ratio = medians["read and place"] / medians["segyio mmap"]
    print(f"{len(site.lines)} lines, {read_and_place(site)} traces, median of {rounds} rounds, CPU time")
    for name, seconds in medians.items():
        print(f"  {name:16s} {seconds * 1e3:8.2f} ms")
    print(f"  ratio {ratio:.2f} (goal 1.50)")


def in_turns(contenders: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Median CPU seconds of each contender."""
    spent: dict[str, list[float]] = {name: [] for name in contenders}
    for act in contenders.values():
        act()
    for _ in range(rounds):
        for name, act in contenders.items():
            start = time.process_time()
            act()
            spent[name].append(time.process_time() - start)
    return {name: statistics.median(values) for name, values in spent.items()}


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--traces", type=int, default=18000, help="in all, shared among the lines")
    parser.add_argument("--samples", type=int, default=512)
    parser.add_argument("--lines", type=int, default=1)
    parser.add_argument("--site", type=Path, help="a site file of SEG-Y lines")
    options = parser.parse_args()
    if options.site:
        compare_site(load_site(options.site), options.rounds)
        return
    each = options.traces // options.lines
    rng = np.random.default_rng(0)
    traces = (rng.standard_normal((each, options.samples)) * 1000).astype(np.float32)
    with tempfile.TemporaryDirectory() as folder:
        for words, code, goal in (("IEEE", 5, "memmap + astype"), ("IBM", 1, "segyio mmap")):
            paths = [Path(folder) / f"{code}-{k:03d}.sgy" for k in range(options.lines)]
            for path in paths:
                write_segy(path, traces, sample_interval_ps=100, sample_format=code)
            expected = by_segyio(paths[0])
            np.testing.assert_array_equal(read_segy(paths[0]).traces, expected)
            contenders: dict[str, Callable[[], object]] = {
                "read_segy": lambda paths=paths: [read_segy(p) for p in paths],
                "segyio mmap": lambda paths=paths: [by_segyio(p) for p in paths],
            }
            if code == 5:
                contenders["memmap + astype"] = lambda paths=paths: [bare(p, options.samples) for p in paths]
            medians = in_turns(contenders, options.rounds)
            size = sum(path.stat().st_size for path in paths) / 1e6
            print(
                f"{words}, {options.lines} file(s), {size:.0f} MB, median of {options.rounds} rounds, CPU time"
            )
            for name, seconds in medians.items():
                ratio = medians["read_segy"] / seconds
                said = "" if name == "read_segy" else f"   read_segy : {name} = {ratio:.2f}"
                mark = {"memmap + astype": " (goal 1.30)", "segyio mmap": " (goal 0.90)"}.get(name, "")
                print(f"  {name:16s} {seconds * 1e3:8.2f} ms{said}{mark if name == goal else ''}")


if __name__ == "__main__":
    main()
