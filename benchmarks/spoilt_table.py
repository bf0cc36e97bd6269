"""Estimates of positioning faults beside the truth, over spoilt copies of the simulated surveys.

Usage: python -m benchmarks.spoilt_table [--shared ../shared] [--draw 11] [--only yard,plaza]

Makes copies with `spoil.py` in a temporary folder, reads and conditions them as the main job does, runs the estimators
of `gridmap.place`, and prints a Markdown table. Which lines are spoilt and by how much is drawn at random.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridmap.condition.recipe import choose_recipe, finish_lines, prepare_line
from gridmap.model import CleanLine
from gridmap.place.corrections import Corrections, estimate_corrections
from gridmap.place.tape import place_by_pegs
from gridmap.place.wheel_scale import estimate_wheel_scale
from gridmap.read.sniff import read_line

SURVEYS = ("yard", "plaza", "priory", "meadow")
WAY = {"+x": (1, 0), "-x": (-1, 0), "+y": (0, 1), "-y": (0, -1)}


@dataclass(frozen=True)
class Copy:
    """One spoilt copy to be made: its survey, a word for it, and the options of spoil.py."""

    survey: str
    what: str
    options: tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """One row of the table."""

    survey: str
    what: str
    truth: str
    estimate: str
    good: bool | None
    false_alarms: str


def copies(shared: Path, draw: int, surveys: tuple[str, ...] = SURVEYS) -> list[Copy]:
    """Draw what is done to which lines; about nine copies a survey, the first one unspoilt."""
    dice = random.Random(draw)
    out = []
    for survey in surveys:
        site = json.loads((shared / "surveys" / survey / "site.json").read_text())
        ways: dict[bool, list[str]] = {}
        for line in site["lines"]:
            ways.setdefault("x" in line["walked_along"], []).append(line["name"])
        names = max(ways.values(), key=len)
        inner = names[2:-2]
        spacing = site["grid"]["line_spacing_m"]

        def some(n: int, of: list[str] = inner) -> list[str]:
            return dice.sample(of, n)

        runs_along_x = names is ways.get(True)
        by = dice.choice([-1, 1]) * dice.uniform(1.0, 2.0) * spacing
        off = f"{some(1)[0]}={f'0,{by:.2f}' if runs_along_x else f'{by:.2f},0'}"
        a, b, c, d, e = some(5)
        stagger = f"{dice.uniform(0.03, 0.12):.3f}"
        mixed = ("--stagger", stagger, "--reverse", a, "--swap", f"{b},{c}", "--duplicate", f"{d}={e}")
        out += [
            Copy(survey, "unspoilt", ()),
            Copy(survey, "stagger", ("--stagger", f"{dice.uniform(0.03, 0.08):.3f}")),
            Copy(survey, "stagger", ("--stagger", f"{dice.uniform(0.09, 0.2):.3f}")),
            Copy(survey, "wheel", ("--wheel",)),
            Copy(survey, "reversed", ("--reverse", ",".join(some(2, names)))),
            Copy(survey, "swapped", ("--swap", ",".join(some(2, names)))),
            Copy(survey, "duplicate", ("--duplicate", "=".join(some(2)))),
            Copy(survey, "late", ("--late", f"{some(1)[0]}={dice.uniform(0.3, 0.9):.2f}")),
            Copy(survey, "displaced", ("--offset", off)),
            Copy(survey, "mixed", mixed),
        ]  # fmt: skip
    return out


def make_copy(shared: Path, copy: Copy, folder: Path) -> dict[str, object]:
    """Write one copy; return its `spoilt` record, the truth."""
    if not copy.options:
        return {}
    subprocess.run(
        [
            sys.executable,
            str(shared / "spoil.py"),
            str(shared / "surveys" / copy.survey),
            str(folder),
            *copy.options,
        ],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    return dict(json.loads((folder / "truth.json").read_text())["spoilt"])


def read_survey(folder: Path) -> tuple[list[CleanLine], float]:
    """Read, place and condition the lines that a site.json names; returns the lines and the sample interval, ns."""
    site = json.loads((folder / "site.json").read_text())
    recipe = choose_recipe(
        site["nominal_frequency_mhz"], site["antenna_separation_m"], site["sample_interval_ns"]
    )
    ready = []
    for entry in site["lines"]:
        line = read_line(
            folder / entry["file"], name=entry["name"], sample_interval_ns=site["sample_interval_ns"]
        )
        start = entry["start_local_m"]
        end = entry.get("end_local_m")
        if end is None:
            number = line.trace_number if line.trace_number is not None else np.arange(len(line.traces))
            run = site["nominal_trace_spacing_m"] * float(number[-1] - number[0])
            end = [s + run * w for s, w in zip(start, WAY[entry["walked_along"]], strict=True)]
        ready.append(prepare_line(place_by_pegs(line, tuple(start), tuple(end)), recipe))
    lines = list(finish_lines(ready, recipe).lines)
    return lines, recipe.interval_ns


def judge(copy: Copy, spoilt: dict[str, object], lines: list[CleanLine], interval_ns: float) -> Iterator[Row]:
    """Run the estimators on one copy and set their answers beside the truth."""
    if "wheel_only" in spoilt:
        yield _wheel(copy, spoilt["wheel_only"], lines, interval_ns)
        return
    found = estimate_corrections(lines, interval_ns)
    alarms = _false_alarms(found, spoilt)
    stagger = spoilt.get("stagger_m")
    s = found.stagger
    if isinstance(stagger, dict) or not copy.options:
        true = float(np.mean(list(stagger.values()))) if isinstance(stagger, dict) else 0.0
        said = f"{100 * s.stagger_m:+.1f} cm (sd {100 * s.sd_m:.1f})" if s.known else "cannot be told"
        good = abs(s.stagger_m - true) <= 0.02 if s.known else None
        if not copy.options and s.known:
            good = not s.significant and abs(s.stagger_m) < 0.01
        yield Row(copy.survey, f"{copy.what}: stagger", f"{100 * true:+.1f} cm", said, good, alarms)
    for kind, key in (("reversed", "reversed"), ("swapped", "swapped"), ("duplicate", "duplicate")):
        for item in spoilt.get(key, []):  # type: ignore[attr-defined]
            lines_named = [item] if isinstance(item, str) else list(item)
            hit = [f for f in found.order if f.kind == kind and set(f.lines) == set(lines_named)]
            said = f"{kind} {', '.join(hit[0].lines)} ({hit[0].z:.1f} sigma)" if hit else "not named"
            yield Row(copy.survey, f"{copy.what}: {kind}", ", ".join(lines_named), said, bool(hit), alarms)
    for name, metres in spoilt.get("late_m", {}).items():  # type: ignore[attr-defined]
        late = [f for f in found.along if f.name == name]
        said = (
            f"{late[0].shape} {late[0].size_m:.2f} m (sd {late[0].sd_m:.2f})" if late else _quiet(found, name)
        )
        good = bool(abs(late[0].size_m - metres) < 0.15) if late else None if "cannot" in said else False
        yield Row(copy.survey, f"{copy.what}: late", f"{name} {metres:.2f} m", said, good, alarms)
    spacing = json.loads((Path(str(spoilt["_survey"])) / "site.json").read_text())["grid"]["line_spacing_m"]
    for name, (dx, dy) in spoilt.get("offset_m", {}).items():  # type: ignore[attr-defined]
        off = [d for d in found.displaced if d.name == name]
        said = f"{off[0].across_m:+.2f} m (sd {off[0].sd_m:.2f})" if off else "not named"
        good = bool(off) and abs(off[0].across_m - (dx or dy)) <= 0.5 * spacing
        yield Row(copy.survey, f"{copy.what}: displaced", f"{name} {dx or dy:+.2f} m", said, good, alarms)
    if not copy.options:
        yield Row(copy.survey, "unspoilt: lines named", "none", alarms, alarms == "none", alarms)


def _wheel(copy: Copy, truth: object, lines: list[CleanLine], interval_ns: float) -> Row:
    assert isinstance(truth, dict)
    found = estimate_wheel_scale(lines, interval_ns)
    error = np.array([f.error - truth[f.name] for f in found])
    known = np.isfinite(error)
    off = np.abs(error[known])
    was = np.array(list(truth.values()))
    said = (
        f"RMS error {100 * math.sqrt(np.mean(off**2)):.2f} %, worst {100 * off.max():.2f} %, "
        f"{int((off <= 0.003).sum())} of {len(found)} lines within 0.3 %, median sd "
        f"{100 * float(np.median([f.sd for f in found])):.2f} %"
        if known.any()
        else "cannot be told"
    )
    true = f"{100 * was.min():+.1f} to {100 * was.max():+.1f} %"
    return Row(copy.survey, "wheel: scale", true, said, bool(known.all() and (off <= 0.003).all()), "-")


def _quiet(found: Corrections, name: str) -> str:
    untold = any("late start" in n and (name in n or " more" in n) for n in found.notes)
    return "cannot be told" if untold else "not named"


def _false_alarms(found: Corrections, spoilt: dict[str, object]) -> str:
    """Name what was found on lines that nothing was done to."""
    touched: set[str] = set()
    for key in ("reversed", "late_m", "offset_m"):
        touched |= set(spoilt.get(key, []))  # type: ignore[call-overload]
    for key in ("swapped", "duplicate"):
        touched |= {name for pair in spoilt.get(key, []) for name in pair}  # type: ignore[attr-defined]
    wrong = [
        f"{f.kind} {', '.join(f.lines)}" for f in found.findings if f.lines and not set(f.lines) & touched
    ]
    if "stagger_m" not in spoilt and found.stagger.significant:
        wrong.append("stagger")
    return "; ".join(wrong) or "none"


def as_markdown(rows: list[Row]) -> str:
    """Write the table; the last column says what was named though nothing was done to it."""
    word = {True: "yes", False: "NO", None: "not told"}
    head = "| survey | copy | truth | estimate | within the goal | false alarms |\n" + "| --- " * 6 + "|"
    body = [
        f"| {r.survey} | {r.what} | {r.truth} | {r.estimate} | {word[r.good]} | {r.false_alarms} |"
        for r in rows
    ]
    return "\n".join([head, *body])


def run(shared: Path, wanted: list[Copy]) -> list[Row]:
    """Make each copy, judge it, and throw it away."""
    rows: list[Row] = []
    for copy in wanted:
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder) / "copy"
            spoilt = make_copy(shared, copy, place)
            source = place if copy.options else shared / "surveys" / copy.survey
            lines, interval_ns = read_survey(source)
            rows += judge(
                copy, {**spoilt, "_survey": str(shared / "surveys" / copy.survey)}, lines, interval_ns
            )
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--shared", type=Path, default=Path(__file__).parents[2] / "shared")
    parser.add_argument("--draw", type=int, default=11)
    parser.add_argument("--without", default="", help="kinds of copies to leave out, such as wheel")
    parser.add_argument("--only", default=",".join(SURVEYS))
    a = parser.parse_args()
    wanted = [
        c for c in copies(a.shared, a.draw, tuple(a.only.split(","))) if c.what not in a.without.split(",")
    ]
    rows = run(a.shared, wanted)
    print(as_markdown(rows))
    print(
        f"\n{len(wanted)} copies, draw {a.draw}: {sum(r.good is True for r in rows)} of {len(rows)} rows "
        "within the goal"
    )


if __name__ == "__main__":
    main()
