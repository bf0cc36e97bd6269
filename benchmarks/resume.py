"""Kill a map at random moments and see whether it ends the same; and what keeping its work costs.

Usage: python -m benchmarks.resume SITE.toml [--data DIR] [--kills 10] [--seed 1] [--cost WORK]

Maps the survey once undisturbed, then kills the same command with SIGKILL at seeded moments and goes on each time.
Every file but run.json must be identical. `--cost WORK` only measures: it writes the products of a kept work folder
again and tells the seconds.
"""

from __future__ import annotations

import argparse
import filecmp
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from gridmap.model.array_file import ArrayFile
from gridmap.pipeline.kept import from_bytes, to_bytes
from gridmap.pipeline.tile_tasks import write_arrays


def unlike(one: Path, two: Path) -> list[str]:
    """Names of files that are not in both or not the same, run.json left out."""
    names = {str(p.relative_to(top)) for top in (one, two) for p in top.rglob("*") if p.is_file()} - {
        "run.json"
    }
    return sorted(
        n
        for n in names
        if not ((one / n).is_file() and (two / n).is_file() and filecmp.cmp(one / n, two / n, shallow=False))
    )


def kill_often(site: str, data: list[str], kills: int, seed: int) -> int:
    """Return how many files differ after all."""
    top = Path(tempfile.mkdtemp(prefix="resume-"))
    command = [sys.executable, "-m", "gridmap", "map", site, *data, "-o"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "check": False}
    subprocess.run([*command, str(top / "first")], **quiet)  # kernels are compiled now
    started = time.monotonic()
    subprocess.run([*command, str(top / "whole")], **quiet)
    whole_s = time.monotonic() - started
    print(
        f"undisturbed: {whole_s:.1f} s; two undisturbed runs differ in {len(unlike(top / 'first', top / 'whole'))}"
    )
    moments, out, bad = random.Random(seed), top / "out", 0
    for number in range(kills):
        after_s = moments.uniform(0.05, 0.95) * whole_s
        run = subprocess.Popen([*command, str(out)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(after_s)
        run.send_signal(signal.SIGKILL)
        run.wait()
        kept = len(list((top / "out.work").glob("*.npz"))) if (top / "out.work").is_dir() else 0
        state = "done" if out.exists() else f"{kept} products kept"
        print(f"killed {number + 1} after {after_s:5.1f} s: {state}", flush=True)
        if out.exists():
            bad += len(unlike(top / "whole", out))
            shutil.rmtree(out)
    started = time.monotonic()
    subprocess.run([*command, str(out)], **quiet)
    print(f"gone on to the end in {time.monotonic() - started:.1f} s")
    bad += len(unlike(top / "whole", out))
    shutil.rmtree(top)
    return bad


def cost(work: Path) -> None:
    """Print the seconds that writing, and removing, the products takes."""
    top = Path(tempfile.mkdtemp(prefix="resume-", dir=work.parent))
    arrays = [ArrayFile.of(path) for path in sorted(work.glob("*.npy"))]
    records = [from_bytes(path.read_bytes(), work) for path in sorted(work.glob("*.npz"))]
    size = sum(4 * a.array().size for a in arrays)
    for array in arrays:
        array.array().sum()  # in memory, as when it was made
    wall, cpu = time.monotonic(), time.process_time()
    for array in arrays:
        write_arrays(top / array.path.name, array.array())
    middle, middle_cpu = time.monotonic(), time.process_time()
    for number, record in enumerate(records):
        (top / f"{number}.npz").write_bytes(to_bytes(record, work))
    last, last_cpu = time.monotonic(), time.process_time()
    shutil.rmtree(top)
    end = time.monotonic()
    print(
        f"arrays, {size / 1e6:.0f} MB in {len(arrays)} files: {middle - wall:.2f} s, CPU {middle_cpu - cpu:.2f} s"
    )
    print(f"records, {len(records)} files: {last - middle:.2f} s, CPU {last_cpu - middle_cpu:.2f} s")
    print(f"removing them: {end - last:.2f} s")


def main() -> int:
    """Read the command line; exit code 1 where a file differs."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("site", nargs="?")
    parser.add_argument("--data")
    parser.add_argument("--kills", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cost", type=Path)
    given = parser.parse_args()
    if given.cost:
        cost(given.cost)
        return 0
    bad = kill_often(given.site, ["--data", given.data] if given.data else [], given.kills, given.seed)
    print(f"{bad} files differ")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
