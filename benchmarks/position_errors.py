"""Distance of traces from where they really were, on spoilt copies, before and after every finding is applied.

Usage: python -m benchmarks.position_errors [--shared ../shared]

Prints the table of docs/positions.md, centimetres, of the lines that were spoilt.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.spoilt_table import Copy, make_copy, read_survey
from gridmap.model import CleanLine, Float64
from gridmap.place.corrections import apply_corrections, estimate_corrections
from gridmap.site.records import Corrections as Choices

APPLY = Choices(
    stagger="apply",
    reversed="apply",
    swapped="apply",
    duplicate="apply",
    along="apply",
    displaced="apply",
    level="off",
)
COPIES = (
    Copy("yard", "stagger 0.15 m", ("--stagger", "0.15")),
    Copy("plaza", "stagger 0.10 m", ("--stagger", "0.10")),
    Copy("priory", "stagger 0.15 m", ("--stagger", "0.15")),
    Copy(
        "yard",
        "three lines late by 0.7 to 0.9 m",
        ("--late", "Y008=0.9", "--late", "Y013=0.7", "--late", "Y018=0.8"),
    ),
    Copy("priory", "one line late by 0.8 m", ("--late", "P007=0.8")),
    Copy("yard", "two lines swapped", ("--swap", "Y006,Y018")),
    Copy("yard", "two lines displaced by 0.4 m", ("--offset", "Y009=0.45,0", "--offset", "Y017=-0.4,0")),
    Copy("priory", "one line displaced by 0.8 m", ("--offset", "P008=0,0.8")),
    Copy("meadow", "one line displaced by 0.7 m", ("--offset", "M007=-0.7,0")),
)


def errors_m(lines: Sequence[CleanLine], truth: Mapping[str, Any], spoilt: Mapping[str, Any]) -> Float64:
    """Distances of the traces of the spoilt lines (all, where the whole survey is) from the truth, metres."""
    true = {entry["name"]: entry for entry in truth["lines"]}
    swapped = {a: b for pair in spoilt.get("swapped", []) for a, b in (pair, pair[::-1])}
    touched = {*spoilt.get("late_m", {}), *spoilt.get("offset_m", {}), *swapped}
    out = []
    for line in lines:
        if touched and line.name not in touched:
            continue
        entry = true[swapped.get(line.name, line.name)]
        along, across = np.array(entry["true_u_m"]), np.array(entry["true_v_m"])
        missing = len(along) - len(line.xy_m)  # of a late start
        way = np.abs(line.xy_m[-1] - line.xy_m[0])
        axis = int(way[1] > way[0])
        off = (line.xy_m[:, axis] - along[missing:], line.xy_m[:, 1 - axis] - across[missing:])
        out.append(np.hypot(*off))
    return np.asarray(np.concatenate(out), np.float64)


def row(shared: Path, copy: Copy) -> str:
    """Make one copy, put it right, and return its row of the table."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "copy"
        spoilt = make_copy(shared, copy, place)
        lines, interval_ns = read_survey(place)
        truth = json.loads((place / "truth.json").read_text())
    found = estimate_corrections(lines, interval_ns, APPLY)
    numbers = []
    for state in (lines, apply_corrections(lines, interval_ns, found)):
        numbers += [f"{100 * v:.0f}" for v in np.percentile(errors_m(state, truth, spoilt), [50, 95])]
    return f"| {copy.survey} | {copy.what} | {' | '.join(numbers)} |"


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--shared", type=Path, default=Path(__file__).parents[2] / "shared")
    a = parser.parse_args()
    print("| survey | spoilt by | median before | 95 % before | median after | 95 % after |")
    print("| --- " * 6 + "|")
    for copy in COPIES:
        print(row(a.shared, copy), flush=True)


if __name__ == "__main__":
    main()
