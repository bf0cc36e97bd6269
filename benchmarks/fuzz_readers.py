"""Damage line files at random for a given time; any bytes must give a right answer or an error of ours.

    python -m benchmarks.fuzz_readers --minutes 10 --reader seg2 --start 1

Findings (another exception, an answer that cannot be, too slow, too much memory) are saved with the bytes that made
them. The same start number gives the same files in the same order.
"""

from __future__ import annotations

import argparse
import collections
import gzip
import importlib.util
import io
import os
import resource
import sys
import tempfile
import time
import traceback
import zipfile
from pathlib import Path

import numpy as np

from benchmarks.line_files import sound
from gridmap.errors import ReadError
from gridmap.model import Line
from gridmap.model.layout import ArrayLayout, Layouts, TextLayout
from gridmap.read import Reader, as_table, describe
from gridmap.read.sniff import READERS

KINDS = ("segy", "seg2", "text", "arrays")
SLOW_S = 2.0
MOST_BYTES = 200_000
HOSTILE = [0, 1, 2, 127, 128, 255, 32, 44, 45, 46, 48, 57, 10, 13]
NUMBERS = [
    0,
    1,
    2,
    -1,
    127,
    128,
    255,
    256,
    32767,
    32768,
    65535,
    65536,
    2**31 - 1,
    2**31,
    2**32 - 1,
    2**63 - 1,
]
WORDS = [
    b"nan",
    b"inf",
    b"-",
    b"1e999",
    b",,",
    b";",
    b"\t",
    b"\n",
    b"\r\n",
    b"\0",
    b"0x10",
    b"1_0",
    b"\xff\xfe",
    b"# ",
]


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
    found = sound(kind, folder)
    shared = Path(__file__).parents[1] / "../shared/outside/segy"
    if kind == "segy" and shared.is_dir():
        found += [path.read_bytes() for path in sorted(shared.glob("*.sgy"))]
    spec = importlib.util.find_spec("obspy") if kind == "seg2" else None
    if spec is not None and spec.origin:
        for path in sorted((Path(spec.origin).parent / "io/seg2/tests/data").glob("*.seg2*")):
            raw = path.read_bytes()
            found.append(gzip.decompress(raw) if path.suffix == ".gz" else raw)
    return [content for content in found if len(content) <= MOST_BYTES]


def damage(content: bytes, others: list[bytes], random: np.random.Generator) -> bytes:
    """Change, cut, repeat, insert or splice at random, most often near the start, where headers are."""
    raw = bytearray(content)
    for _ in range(min(8, int(random.geometric(0.5)))):
        if not raw:
            break
        reach = min(len(raw), int(random.choice([64, 300, 4000, len(raw)])))
        at = int(random.integers(reach))
        act = random.integers(9)
        if act == 0:
            raw[at] = int(random.integers(256))
        elif act == 1:
            raw[at] = int(random.choice(HOSTILE))
        elif act == 2:
            raw[at] ^= 1 << int(random.integers(8))
        elif act in (3, 4):
            size = int(random.choice([1, 2, 4, 8]))
            value = int(NUMBERS[int(random.integers(len(NUMBERS)))]) % 2 ** (8 * size)
            order = "big" if random.integers(2) else "little"
            raw[at : at + size] = value.to_bytes(size, order)
        elif act == 5:
            word = WORDS[int(random.integers(len(WORDS)))]
            raw[at : at + int(random.integers(0, 3))] = word
        elif act == 6:
            del raw[at if random.integers(2) else max(0, len(raw) - at) :]
        elif act == 7:
            size = int(random.integers(1, 200))
            raw[at:at] = raw[at : at + size] * int(random.integers(1, 4))
        else:
            other = others[int(random.integers(len(others)))]
            start = int(random.integers(len(other)))
            raw[at : at + int(random.integers(0, 100))] = other[start : start + int(random.integers(1, 100))]
    return bytes(raw[:MOST_BYTES])


def repacked(content: bytes, random: np.random.Generator) -> bytes:
    """Put a damaged .npy into a sound .npz now and then: its checksum would stop everything else."""
    if not content.startswith(b"\x93NUMPY") or random.integers(2):
        return content
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.npy", content)
        if random.integers(2):
            archive.writestr("time_ns.npy", content)
    return stream.getvalue()


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


def trial(reader: Reader, path: Path, random: np.random.Generator) -> tuple[str, str]:
    """Read and describe one file: ("read" or "refused" or "finding", words)."""
    layouts = LAYOUTS[int(random.integers(len(LAYOUTS)))]
    options = reader.options(None if random.integers(2) else 0.4, layouts)
    begin = time.perf_counter()
    outcome, words = "read", ""
    try:
        words = wrong(reader.read(path, name=None, **options))
        if words:
            return "finding", words
    except ReadError as problem:
        outcome, words = "refused", str(problem)
        if "\n" in words or not words.startswith(f"{path.name}:"):
            return "finding", f"message {words!r}"
    except Exception:
        return "finding", traceback.format_exc()
    for act in (lambda: reader.describe(path, **options), lambda: describe(path)):
        try:
            as_table([act()])
        except ReadError:
            pass
        except Exception:
            return "finding", traceback.format_exc()
    took = time.perf_counter() - begin
    return ("finding", f"took {took:.1f} s") if took > SLOW_S else (outcome, words)


def run(kind: str, minutes: float, start: int, keep: Path) -> int:
    """Fuzz one reader; the number of findings."""
    reader, counts = reader_of(kind), collections.Counter[str]()
    random = np.random.default_rng([start, KINDS.index(kind)])
    refusals: collections.Counter[str] = collections.Counter()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "line"
        files = corpus(kind, Path(folder))
        end = time.monotonic() + 60 * minutes
        while time.monotonic() < end:
            content = damage(files[int(random.integers(len(files)))], files, random)
            content = repacked(content, random)
            path.write_bytes(content)
            before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            outcome, words = trial(reader, path, random)
            grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
            if grown > 256 * 1024 and outcome != "finding":
                outcome, words = "finding", f"memory grew by {grown // 1024} MiB for {len(content)} bytes"
            counts[outcome] += 1
            if outcome == "refused":
                refusals["".join(c for c in words.split(": ", 1)[1] if not c.isdigit())[:50]] += 1
            if outcome == "finding":
                keep.mkdir(parents=True, exist_ok=True)
                name = f"{kind}-{start}-{sum(counts.values())}"
                (keep / f"{name}.bin").write_bytes(content)
                (keep / f"{name}.txt").write_text(words, encoding="utf-8")
                print(f"finding {name}: {words.strip().splitlines()[-1]}")
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
