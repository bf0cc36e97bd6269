"""What `gridmap check` finds beside what was done: recall and precision by kind.

Usage: python -m benchmarks.check_table [--shared ../shared] [--part shared,clean,spoilt,injected] [--seeds 1,2,3]

"shared": the simulated surveys that come with their truth. "clean": lines written from their traces before any fault.
"spoilt": copies made by spoil.py. "injected": surveys simulated here, with faults in other shapes (check_faults.py).
A finding is right where a fault of its kind was put on its line, and their traces overlap where both have such.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections import Counter
from pathlib import Path

from benchmarks.check_surveys import SOILS, clean_copy, make_injected, site_of_copy
from benchmarks.spoilt_table import copies, make_copy
from gridmap.check.finding import Finding
from gridmap.pipeline.check_site import check_site

SURVEYS = ("yard", "plaza", "priory", "meadow", "lane")
SAME = {"burst": "bump", "level": "weak", "dropped": "gap"}
"""Names that are taken for one: a long bump is a burst."""
SITES = Path(__file__).parents[1] / "tests" / "sites"


def same(kind: str) -> str:
    return SAME.get(kind, kind)


class Count:
    """Faults and findings by kind."""

    def __init__(self) -> None:
        self.there, self.found, self.said, self.right = Counter(), Counter(), Counter(), Counter()
        self.missed: list[str] = []
        self.wrong: list[str] = []

    def add(self, where: str, faults: list[dict[str, object]], findings: list[Finding]) -> None:
        kinds = {same(str(f["kind"])) for f in faults}
        for fault in faults:
            kind = same(str(fault["kind"]))
            self.there[kind] += 1
            if any(_match(fault, f) for f in findings):
                self.found[kind] += 1
            else:
                self.missed.append(f"{where} {fault}")
        for f in findings:
            kind = same(f.kind)
            if kind in kinds or f.severity != "note":
                self.said[kind] += 1
                if any(_match(fault, f) for fault in faults):
                    self.right[kind] += 1
                else:
                    self.wrong.append(
                        f"{where} {f.line} {f.kind} {f.severity} {f.first_trace}-{f.last_trace}: {f.words}"
                    )

    def rows(self) -> list[str]:
        out = ["| kind | faults | found | recall | findings | right | precision |", "| --- " * 7 + "|"]
        for kind in sorted(self.there | self.said):
            n, k, m, r = self.there[kind], self.found[kind], self.said[kind], self.right[kind]
            out.append(
                f"| {kind} | {n} | {k} | {f'{k / n:.2f}' if n else '-'} | {m} | {r} | {f'{r / m:.2f}' if m else '-'} |"
            )
        return out


def _match(fault: dict[str, object], f: Finding) -> bool:
    if same(str(fault["kind"])) != same(f.kind):
        return False
    if "xy" in fault:
        x, y = fault["xy"]  # type: ignore[misc]
        return f.xy_m is not None and abs(f.xy_m[0] - x) < 1 and abs(f.xy_m[1] - y) < 1
    if f.line not in ("", fault["line"]):
        return False
    if fault.get("mhz") is not None:
        return abs(f.figures[0].value - float(fault["mhz"])) < 25  # type: ignore[arg-type]
    if f.line == "":
        return False
    first, last = fault.get("first"), fault.get("last")
    if first is None or f.first_trace is None or f.last_trace is None:
        return True
    return f.first_trace <= int(last) + 1 and f.last_trace >= int(first) - 1  # type: ignore[call-overload]


def shared_truth(survey: Path) -> list[dict[str, object]]:
    """Faults of a shared survey in the words of the check."""
    truth = json.loads((survey / "truth.json").read_text())
    out: list[dict[str, object]] = []
    for item in truth["injected"]:
        if item["kind"] == "dropped":
            gap = item["file_gap_after_trace"]
            out.append({"line": item["line"], "kind": "gap", "first": gap, "last": gap + 1})
        else:
            out.append(
                {
                    "line": item["line"],
                    "kind": item["kind"],
                    "first": item["file_first_trace"],
                    "last": item["file_last_trace"],
                }
            )
    out += [{"line": item["line"], "kind": "lifted"} for item in truth["lift_off"]]
    for line in truth["lines"]:
        if line["clipped_samples"]:
            out.append({"line": line["name"], "kind": "clipped"})
    if truth["fence_air_wave"]:
        out.append({"line": "", "kind": "above ground", "xy": truth["fence_air_wave"]["post_local_m"]})
    if truth["gnss"]:
        out += [{"line": truth["gnss"][key], "kind": "position"} for key in ("gap_line", "float_line")]
    return out


def spoilt_truth(spoilt: dict[str, object]) -> list[dict[str, object]]:
    """What spoil.py says it did, in the words of the check."""
    out: list[dict[str, object]] = []
    out += [{"line": n, "kind": "reversed"} for n in spoilt.get("reversed", [])]  # type: ignore[attr-defined]
    out += [{"line": n, "kind": "swapped"} for pair in spoilt.get("swapped", []) for n in pair]  # type: ignore[attr-defined]
    out += [{"line": a, "kind": "duplicate", "other": b} for a, b in spoilt.get("duplicate", [])]  # type: ignore[attr-defined]
    out += [{"line": n, "kind": "short"} for n in spoilt.get("late_m", {})]  # type: ignore[attr-defined]
    out += [{"line": n, "kind": "displaced"} for n in spoilt.get("offset_m", {})]  # type: ignore[attr-defined]
    return out


PLACES = (
    "reversed",
    "swapped",
    "duplicate",
    "short",
    "along",
    "displaced",
    "spacing",
    "coverage",
    "missing",
    "wheel",
)


def run_spoilt(shared: Path, draw: int) -> Count:
    """Copies of the four surveys placed by pegs; only faults of place are counted."""
    count = Count()
    for copy in copies(shared, draw):
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder) / "copy"
            if not copy.options:
                continue
            spoilt = make_copy(shared, copy, place)
            faults = spoilt_truth(spoilt)
            found = list(check_site(site_of_copy(place)).verdict.findings)
            if "stagger_m" in spoilt:
                faults.append({"line": "", "kind": "stagger"})
                hit = any(f.kind == "stagger" for f in found)
                count.there["stagger"] += 1
                count.found["stagger"] += hit
                faults = faults[:-1]
            pairs = {str(f["line"]): f.get("other") for f in faults if f["kind"] == "duplicate"}
            other = {o: n for n, o in pairs.items()}
            said = [f for f in found if f.kind in PLACES]
            for fault in faults:  # which of two copies is the true one nobody can tell
                if fault["kind"] == "duplicate" and not any(_match(fault, f) for f in said):
                    fault["line"] = next((o for o, n in other.items() if n == fault["line"]), fault["line"])
            count.add(f"{copy.survey} {copy.what} {' '.join(copy.options)}", faults, said)
    return count


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--shared", type=Path, default=Path(__file__).parents[2] / "shared")
    parser.add_argument("--part", default="shared,clean,spoilt,injected")
    parser.add_argument("--seeds", default="1,2,3")
    parser.add_argument("--draw", type=int, default=11)
    asked = parser.parse_args()
    for part in asked.part.split(","):
        begun, count = time.process_time(), Count()
        if part == "shared":
            for name in SURVEYS:
                survey = asked.shared / "surveys" / name
                verdict = check_site(SITES / f"{name}.toml", data=survey).verdict
                count.add(name, shared_truth(survey), list(verdict.findings))
        elif part == "clean":
            for name in SURVEYS:
                with tempfile.TemporaryDirectory() as folder:
                    verdict = check_site(clean_copy(asked.shared / "surveys" / name, Path(folder))).verdict
                truth = [f for f in shared_truth(asked.shared / "surveys" / name) if f["kind"] == "lifted"]
                count.add(name, truth, [f for f in verdict.findings if f.severity != "note"])
        elif part == "spoilt":
            count = run_spoilt(asked.shared, asked.draw)
        else:
            for seed in map(int, asked.seeds.split(",")):
                for soil in SOILS:
                    with tempfile.TemporaryDirectory() as folder:
                        faults = make_injected(Path(folder), soil, seed)
                        verdict = check_site(Path(folder) / "site.toml").verdict
                        count.add(f"{soil.name} {seed}", faults, list(verdict.findings))
        print(f"\n## {part} ({time.process_time() - begun:.0f} s of CPU)\n")
        print("\n".join(count.rows()))
        for title, items in (("missed", count.missed), ("wrong", count.wrong)):
            for item in items:
                print(f"- {title}: {item}")


if __name__ == "__main__":
    main()
