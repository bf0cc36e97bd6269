"""How cost grows with area: `python -m benchmarks.scale [--side M] [--areas 1 2 4] [--keep FOLDER]`.

Makes survey L (an array, see `make_survey_l`) on squares of 1, 2 and 4 times an area and maps each in a process of
its own: CPU seconds, seconds a million traces, peak memory, and the exponent of the growth from the smallest to the
largest, stage by stage. 1.0 is flat cost per area.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import resource
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from benchmarks.make_survey_l import make


@dataclass(frozen=True, slots=True)
class Cost:
    """What one map took."""

    traces: int
    wall_s: float
    cpu_s: float
    peak_mib: float
    stages: dict[str, float]


def run_job(site: Path, out: Path, more: list[str]) -> tuple[float, float, float]:
    """Map in a process of its own; returns wall and CPU seconds and peak memory in MiB."""
    began = time.perf_counter()
    words = [sys.executable, "-m", "gridmap", "map", str(site), "-o", str(out), "--replace", *more]
    child = os.posix_spawn(words[0], words, os.environ)
    _, status, used = os.wait4(child, 0)
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        sys.exit(f"gridmap map ended with exit code {os.waitstatus_to_exitcode(status)}")
    return time.perf_counter() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def measure(folder: Path, side_m: float, more: list[str]) -> Cost:
    """Make a survey where there is none yet, and map it."""
    survey = folder / f"survey_{side_m:g}m"
    if not (survey / "site.toml").exists():
        print(f"making {survey} ...", flush=True)
        make(survey, side_m)
    out = folder / f"map_{side_m:g}m"
    wall, cpu, peak = run_job(survey / "site.toml", out, more)
    record = json.loads((out / "run.json").read_text())
    files = list((survey / "lines").iterdir())
    traces = sum((path.stat().st_size - 3600) // 2288 for path in files)
    return Cost(traces, wall, cpu, peak, {s["name"]: s["seconds"] for s in record["stages"]})


def main() -> None:
    """Measure and print."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--side", type=float, default=12.0, help="side of the smallest square, metres")
    ask.add_argument("--areas", type=float, nargs="+", default=[1.0, 2.0, 4.0], help="times its area")
    ask.add_argument("--keep", type=Path, help="folder for surveys and maps; kept")
    ask.add_argument("more", nargs="*", help="words for gridmap map, after --")
    words = ask.parse_args()
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with tempfile.TemporaryDirectory() as temporary:
        folder = words.keep or Path(temporary)
        sides = [round(words.side * math.sqrt(area), 2) for area in words.areas]
        costs = [measure(folder, side, words.more) for side in sides]
    print(f"\nload {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print("| side | traces | wall s | CPU s | CPU s a million traces | peak MiB |")
    print("| --: | --: | --: | --: | --: | --: |")
    for side, cost in zip(sides, costs, strict=True):
        per = cost.cpu_s / cost.traces * 1e6
        print(
            f"| {side:g} m | {cost.traces} | {cost.wall_s:.0f} | {cost.cpu_s:.0f} | {per:.0f} | {cost.peak_mib:.0f} |"
        )
    first, last = costs[0], costs[-1]
    growth = math.log(last.traces / first.traces)
    print(f"\nexponent of CPU seconds with traces: {math.log(last.cpu_s / first.cpu_s) / growth:.2f}")
    print("\n| stage | " + " | ".join(f"{side:g} m, wall s" for side in sides) + " | exponent |")
    print("| --- |" + " --: |" * (len(sides) + 1))
    for name in first.stages:
        row = [cost.stages.get(name, math.nan) for cost in costs]
        power = math.log(max(row[-1], 1e-3) / max(row[0], 1e-3)) / growth
        print(f"| {name} | " + " | ".join(f"{s:.1f}" for s in row) + f" | {power:.2f} |")


if __name__ == "__main__":
    main()
