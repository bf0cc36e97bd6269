"""Damage files at random for a given time; any bytes must give a right answer or an error of ours.

    python -m benchmarks.fuzz_readers --minutes 10 --reader seg2 --start 1

Findings (another exception, an answer that cannot be, too slow, too much memory) are saved with the bytes that made
them. The same start number gives the same files in the same order.
"""

from __future__ import annotations

import argparse
import collections
import contextlib
import faulthandler
import gzip
import importlib.util
import os
import re
import resource
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Literal

import numpy as np

from benchmarks import line_files, place_files
from benchmarks.mutations import MOST_BYTES, mutate
from gridmap.errors import InputError, PlaceError, ReadError
from gridmap.model import IDENTITY, Line, Points, Stations, Track
from gridmap.model.layout import ArrayLayout, Layouts, TextLayout
from gridmap.place.terrain import heights_from_points, heights_from_raster
from gridmap.read import Reader, as_table, describe
from gridmap.read.points import read_points
from gridmap.read.sniff import READERS
from gridmap.read.stations import read_stations
from gridmap.read.terrain import read_height_raster
from gridmap.read.track import read_track
from gridmap.site.load import load_site

Attempt = Callable[[Path, np.random.Generator], str]
"""Reads one file; gives words for an answer that cannot be, or an empty text."""

LINES = ("segy", "seg2", "text", "arrays")
KINDS = (*LINES, "nmea", "gpx", "points", "terrain", "sitefile")
SLOW_S = 2.0
HANGS_S = 120.0


LAYOUTS = (
    *[Layouts()] * 4,
    Layouts(TextLayout(traces_in="rows", sample_times=False), ArrayLayout(amplitude="a", traces_in="rows")),
    Layouts(
        TextLayout(traces_in="columns", sample_times=True), ArrayLayout(traces_in="columns", time="time_ns")
    ),
    Layouts(TextLayout(before_samples=("x", "y")), ArrayLayout(time="t", x="t", y="k", number="a")),
    Layouts(
        TextLayout(delimiter="comma", header_rows=1), ArrayLayout(time="dt", utc_s="time_ns", time_unit="us")
    ),
    Layouts(
        TextLayout(before_samples=("number", "utc_s", "skip"), decimal=",", time_unit="s"), ArrayLayout()
    ),
)


def reader_of(kind: str) -> Reader:
    """Find the reader by the file that it accepts first."""
    names = {"segy": "SEG-Y", "seg2": "SEG-2", "text": "text", "arrays": "NumPy"}
    return next(reader for reader in READERS if names[kind] in reader.name)


def corpus(kind: str, folder: Path) -> list[bytes]:
    """Give sound files: small ones of our own, and real ones by others where they are at hand."""
    if kind not in LINES:
        return place_files.sound(kind, folder)
    found = line_files.sound(kind, folder)
    shared = Path(__file__).parents[1] / "../shared/outside/segy"
    if kind == "segy" and shared.is_dir():
        found += [path.read_bytes() for path in sorted(shared.glob("*.sgy"))]
    spec = importlib.util.find_spec("obspy") if kind == "seg2" else None
    if spec is not None and spec.origin:
        for path in sorted((Path(spec.origin).parent / "io/seg2/tests/data").glob("*.seg2*")):
            raw = path.read_bytes()
            found.append(gzip.decompress(raw) if path.suffix == ".gz" else raw)
    return [content for content in found if len(content) <= MOST_BYTES]


def wrong(line: Line) -> str:
    """Say what cannot be in a line, or ""."""
    if line.traces.ndim != 2 or not line.traces.size or line.traces.dtype != np.float32:
        return f"traces {line.traces.dtype} {line.traces.shape}"
    if not np.isfinite(line.traces).all():
        return "samples that are not finite"
    if not (np.isfinite(line.sample_interval_ns) and line.sample_interval_ns > 0):
        return f"interval {line.sample_interval_ns}"
    if not np.isfinite(line.sample_start_ns):
        return f"start {line.sample_start_ns}"
    for name in ("trace_number", "time_s", "header_xy"):
        values = getattr(line, name)
        if values is not None and (len(values) != len(line.traces) or not np.isfinite(values).all()):
            return f"{name} {values.shape}"
    if line.trace_number is not None and not (np.diff(line.trace_number) > 0).all():
        return "trace numbers that do not rise"
    return ""


def attempt_line(kind: str) -> Attempt:
    """Read and describe a line file."""
    reader = reader_of(kind)

    def attempt(path: Path, random: np.random.Generator) -> str:
        layouts = LAYOUTS[int(random.integers(len(LAYOUTS)))]
        options = reader.options(None if random.integers(2) else 0.4, layouts)
        for act in (lambda: reader.describe(path, **options), lambda: describe(path)):
            with contextlib.suppress(ReadError):
                as_table([act()])
        return wrong(reader.read(path, name=None, **options))

    return attempt


COLUMNS: tuple[dict[str, str | int] | None, ...] = (
    *[None] * 4,
    {"time": 1, "x": 2, "y": 3},
    {"time": "utc", "x": "easting", "y": "northing"},
    {"x": 3, "y": 2, "height": 1},
    {"wrong": 1},
    {"time": "x", "x": 1},
)


def attempt_track(path: Path, random: np.random.Generator) -> str:
    """Read a track, and points where it is delimited text; take what is read to the local grid."""
    columns = COLUMNS[int(random.integers(len(COLUMNS)))]
    frame: Literal["local", "map"] = "map" if random.integers(2) else "local"
    answers = []
    for read in (read_track, read_points, read_stations):
        try:
            answers.append(read(path, columns=columns, xy_frame=frame))
        except ReadError as problem:
            refusal = problem
    if not answers:
        raise refusal
    return next((words for words in map(wrong_places, answers) if words), "")


def wrong_places(answer: Track | Points | Stations) -> str:
    """Say what cannot be in a track or in points, or ""."""
    if isinstance(answer, Points):
        if answer.xyz_m.shape != (len(answer.names), 3) or not len(answer.names):
            return f"points {answer.xyz_m.shape}, {len(answer.names)} names"
        return "" if np.isfinite(answer.xyz_m[:, :2]).all() else "a place that is not finite"
    if isinstance(answer, Stations):
        right = len(answer.lines) == len(answer.xyz_m) == len(answer.trace) == len(answer.station_m)
        return (
            "" if right and np.isfinite(answer.xyz_m[:, :2]).all() else "stations that do not hang together"
        )
    count = len(answer.time_s)
    for name in ("place", "height_m", "geoid_m", "quality", "sd_m"):
        if len(getattr(answer, name)) != count:
            return f"{name} {getattr(answer, name).shape} for {count} fixes"
    if not count or not np.isfinite(answer.time_s).all() or (np.diff(answer.time_s) <= 0).any():
        return "times that do not rise"
    if answer.time_s.min() < 0 or answer.time_s.max() > 4.2e9:
        return f"times from {answer.time_s.min()} to {answer.time_s.max()}"
    if not np.isfinite(answer.place).all():
        return "a place that is not finite"
    if answer.frame == "degrees" and (np.abs(answer.place) > (180, 90)).any():
        return "a place that is not on Earth"
    if np.isinf(answer.height_m).any() or np.isinf(answer.geoid_m).any() or (answer.sd_m < 0).any():
        return "a height that is not finite, or a deviation below 0"
    return ""


def attempt_terrain(path: Path, random: np.random.Generator) -> str:
    """Read ground heights as a raster, else as points, and look some up."""
    bounds = (431872.0, 5712352.0, 431880.0, 5712358.0) if random.integers(2) else None
    xy_m = np.array([[431875.0, 5712355.0], [0.0, 0.0], [3.0, 2.0]])
    try:
        raster = read_height_raster(path, bounds)
    except ReadError as problem:
        if path.read_bytes()[:2] in (b"II", b"MM"):
            raise
        with contextlib.suppress(PlaceError):
            heights_from_points(read_points(path), xy_m, IDENTITY)
        if "\n" in str(problem):
            return f"message {str(problem)!r}"
        return ""
    if raster.height_m.ndim != 2 or raster.height_m.dtype != np.float32 or np.isinf(raster.height_m).any():
        return f"heights {raster.height_m.dtype} {raster.height_m.shape}"
    with contextlib.suppress(PlaceError):
        found = heights_from_raster(raster, xy_m, IDENTITY)
        if np.isinf(found).any():
            return "a height that is not finite"
    return ""


def attempt_site(data: Path) -> Attempt:
    """Check a site file against a folder of data: most often the one that suits its name."""
    folders = {folder.name: folder for folder in place_files.SHARED.glob("*") if folder.is_dir()}
    own = place_files.site_data(data)
    demo = Path(__file__).parents[1] / "gridmap/demo_data"

    def attempt(path: Path, random: np.random.Generator) -> str:
        content = path.read_bytes()
        suits = [folder for name, folder in folders.items() if f'name = "{name}"'.encode() in content]
        suits += [own if b"extra/M1" in content else demo]
        site = load_site(path, data=suits[0] if random.integers(8) else demo)
        if not site.lines:
            return "a site without lines"
        numbers = [site.antenna.frequency_mhz, site.antenna.separation_m, *(site.size_m or ())]
        numbers += [v for plan in site.lines if plan.placing == "pegs" for v in (*plan.start_m, *plan.end_m)]
        return "" if np.isfinite(numbers).all() else "a number that is not finite"

    return attempt


def trial(attempt: Attempt, path: Path, random: np.random.Generator) -> tuple[str, str]:
    """Read one file: ("read" or "refused" or "finding", words)."""
    begin = time.process_time()
    outcome, words = "read", ""
    faulthandler.dump_traceback_later(HANGS_S, exit=True)
    try:
        words = attempt(path, random)
        if words:
            return "finding", words
    except InputError as problem:
        outcome, words = "refused", str(problem)
        if "\n" in words or not re.match(rf"{re.escape(path.name)}(:|, )", words):
            return "finding", f"message {words!r}"
    except Exception:
        return "finding", traceback.format_exc()
    finally:
        faulthandler.cancel_dump_traceback_later()
    took = time.process_time() - begin
    return ("finding", f"took {took:.1f} s") if took > SLOW_S else (outcome, words)


def run(kind: str, minutes: float, start: int, keep: Path) -> int:
    """Fuzz one reader; the number of findings. A crash or a hang leaves the file that made it in `keep`."""
    counts, refusals = collections.Counter[str](), collections.Counter[str]()
    random = np.random.default_rng([start, KINDS.index(kind)])
    keep.mkdir(parents=True, exist_ok=True)
    path = keep / f"{kind}-{start}-now"
    with tempfile.TemporaryDirectory() as folder:
        files = corpus(kind, Path(folder))
        others = {"sitefile": attempt_site(Path(folder)), "terrain": attempt_terrain}
        others |= dict.fromkeys(("nmea", "gpx", "points"), attempt_track)
        attempt = attempt_line(kind) if kind in LINES else others[kind]
        end = time.monotonic() + 60 * minutes
        while time.monotonic() < end:
            content = mutate(kind, files[int(random.integers(len(files)))], files, random)
            path.write_bytes(content)
            before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            outcome, words = trial(attempt, path, random)
            grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
            if grown > 256 * 1024 and outcome != "finding":
                outcome, words = "finding", f"memory grew by {grown // 1024} MiB for {len(content)} bytes"
            counts[outcome] += 1
            if outcome == "refused":
                said = re.split(r"[:,] ", words, maxsplit=1)[-1]
                refusals["".join(c for c in said if not c.isdigit())[:50]] += 1
            if outcome == "finding":
                name = f"{kind}-{start}-{sum(counts.values())}"
                (keep / f"{name}.bin").write_bytes(content)
                (keep / f"{name}.txt").write_text(words, encoding="utf-8")
                print(f"finding {name}: {words.strip().splitlines()[-1]}", flush=True)
    path.unlink(missing_ok=True)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(
        f"{kind}: {sum(counts.values())} files from {len(files)} sound ones in {minutes:g} min, {counts['read']} read, "
        f"{counts['refused']} refused in {len(refusals)} ways, {counts['finding']} findings, peak memory {peak} MiB"
    )
    return counts["finding"]


def main() -> None:
    """Parse the command line and run."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--reader", choices=KINDS, required=True)
    parser.add_argument("--start", type=int, default=1, help="start of the random numbers")
    parser.add_argument(
        "--keep", type=Path, default=Path(tempfile.gettempdir()) / "gridmap-fuzz", help="for findings"
    )
    given = parser.parse_args()
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    sys.exit(1 if run(given.reader, given.minutes, given.start, given.keep) else 0)


if __name__ == "__main__":
    main()
