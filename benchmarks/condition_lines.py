"""Conditioning and envelope of the 20 m reference survey, beside the plain SciPy chain in the same run.

Usage: python -m benchmarks.condition_lines [SURVEY] [--lines N]

SURVEY: a folder made by benchmarks.make_survey_s (made in a temporary folder if left out). Prints a table, judges
nothing. The plain chain is what a careful newcomer writes: float64, scipy.ndimage.uniform_filter1d,
scipy.signal.sosfiltfilt, mean trace off, a given gain, scipy.signal.hilbert. gridmap's finds time zero and level of
each line as well, mends spikes, leaves faulty traces out, guards flat reflectors and fits its gain; it works on
several lines at a time.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from scipy import ndimage, signal

from benchmarks.make_survey_s import make
from gridmap.condition.recipe import Recipe, choose_recipe, finish_lines, prepare_line
from gridmap.condition.spectrum import to_time_zero
from gridmap.image.envelope import envelope
from gridmap.model import PlacedLine
from gridmap.read.sniff import read_line
from gridmap.site.load import load_site
from gridmap.site.records import LinePlan, Site
from gridmap.threads import each


def plain_chain(traces: np.ndarray, interval_ns: float, recipe: Recipe, gain: np.ndarray) -> np.ndarray:
    """Condition one line with SciPy in double precision; returns the envelope."""
    x = traces.astype(float)
    x -= ndimage.uniform_filter1d(x, int(recipe.dewow_ns / interval_ns) | 1, axis=1, mode="nearest")
    low = signal.butter(4, recipe.band_mhz[0], "high", fs=1e3 / interval_ns, output="sos")
    high = signal.butter(4, recipe.band_mhz[1], fs=1e3 / interval_ns, output="sos")
    x = signal.sosfiltfilt(np.concatenate([low, high]), x, axis=1)
    x -= x.mean(axis=0)
    x *= gain
    return np.abs(signal.hilbert(x, axis=1))


def agreement(traces: np.ndarray, interval_ns: float, recipe: Recipe) -> float:
    """Largest difference of envelopes after the same linear steps, as a share of the peak.

    Off the record's ends by one and a half periods of the lower corner, as far as the band-pass rings: nearer to them
    both chains guess what lay outside (tests/condition/test_record_ends.py asks which guess is better).
    """
    from gridmap.condition.dewow import dewow

    ours = to_time_zero(
        dewow(traces, interval_ns, recipe.dewow_ns), interval_ns, 0.0, traces.shape[1], recipe.band_mhz
    )
    ours = envelope(ours - ours.mean(axis=0))
    theirs = plain_chain(traces, interval_ns, recipe, np.ones(traces.shape[1]))
    edge = round(1.5e3 / recipe.band_mhz[0] / interval_ns)
    return float(np.abs(ours - theirs)[:, edge:-edge].max() / theirs.max())


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("survey", type=Path, nargs="?")
    ask.add_argument("--lines", type=int, default=0, help="only so many lines (0: all)")
    words = ask.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = words.survey or Path(temporary) / "survey"
        if not (folder / "site.toml").exists():
            print(f"making {folder} ...", flush=True)
            make(folder, 20.0)
        site = load_site(folder / "site.toml")
        plans = site.lines[: words.lines or None]
        compare(site, plans)


def compare(site: Site, plans: Sequence[LinePlan]) -> tuple[float, float, float]:
    """Print the table; CPU seconds of both chains, and the largest difference as a share of the peak."""
    lines = []
    for plan in plans:
        line = read_line(plan.file, name=plan.name, sample_interval_ns=site.processing.sample_interval_ns)
        along = np.linspace(0, np.hypot(*np.subtract(plan.end_m, plan.start_m)), len(line.traces))
        lines.append(PlacedLine(line, np.stack([along, 0 * along], axis=1), along))
    dt = lines[0].line.sample_interval_ns
    antenna = site.antenna
    recipe = choose_recipe(antenna.frequency_mhz, antenna.separation_m, dt, height_m=antenna.height_m)
    gain = np.linspace(1, 30, lines[0].line.traces.shape[1])

    def ours(some: list[PlacedLine]) -> None:
        ready = each(lambda p: prepare_line(p, recipe), some)
        each(lambda ln: envelope(ln.traces).sum(), finish_lines(ready, recipe).lines)

    def theirs(some: list[PlacedLine]) -> None:
        for placed in some:
            plain_chain(placed.line.traces, dt, recipe, gain)

    ours(lines[:4])  # compile before timing
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rows = []
    for name, chain in (("gridmap", ours), ("SciPy, float64", theirs)):
        wall, cpu = [], []
        for _ in range(3):
            started = time.perf_counter(), time.process_time()
            chain(lines)
            wall.append(time.perf_counter() - started[0])
            cpu.append(time.process_time() - started[1])
        rows.append((name, min(wall), min(cpu), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024))
    samples = sum(p.line.traces.size for p in lines)
    print(
        f"{len(lines)} lines, {samples / 1e6:.1f} M samples, held in memory before either chain: {before:.0f} MiB\n"
    )
    print("| chain | wall s | CPU s | ns a sample, CPU | peak MiB so far |\n| --- | --: | --: | --: | --: |")
    for name, wall, cpu, peak in rows:
        print(f"| {name} | {wall:.2f} | {cpu:.2f} | {1e9 * cpu / samples:.1f} | {peak:.0f} |")
    (_, w1, c1, _), (_, w2, c2, _) = rows
    print(f"\nSciPy to gridmap: wall {w2 / w1:.1f}, CPU {c2 / c1:.1f}")
    worst = max(agreement(p.line.traces[:400], dt, recipe) for p in lines[:: max(1, len(lines) // 8)])
    print(f"same linear steps, largest difference of envelopes: {100 * worst:.2f} % of the peak")
    return c1, c2, worst


if __name__ == "__main__":
    main()
