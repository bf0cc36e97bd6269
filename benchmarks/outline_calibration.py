"""How sure an outline is: logistic regression over simulated surveys (`benchmarks.outline_surveys`).

`python -m benchmarks.outline_calibration FOLDER FIRST COUNT` draws COUNT surveys from seed FIRST on in FOLDER (their
lines are deleted once imaged), maps each as far as its bodies, and keeps the evidence beside them. Then it prints, over
all surveys kept in FOLDER so far: overlap and depth error of the bodies, the weights for
`gridmap.features.outline_judge`, and how often bodies of each confidence are real when judged by weights from other
surveys. A body is real where its overlap (intersection over union) with a true one is at least 0.4, or, for a footing,
where 70 % of it lies within 0.2 m of the strip.
"""

from __future__ import annotations

import argparse
import json
import shutil
from contextlib import suppress
from pathlib import Path
from unittest.mock import patch

import numpy as np
import shapely

from benchmarks.outline_surveys import make
from gridmap.features.outline import find_bodies
from gridmap.features.outline_judge import evidence
from gridmap.features.outline_measure import echo_of
from gridmap.pipeline import map_site as job
from gridmap.site.load import load_site

REAL_OVERLAP = 0.4
FOLDS = 8


def overlap(ring_m: np.ndarray, truth: list[dict]) -> tuple[float, int]:
    """Best overlap of a ring with a true body, and which."""
    ring, best = shapely.Polygon(ring_m).buffer(0), (0.0, -1)
    for k, body in enumerate(truth):
        true = shapely.Polygon(body["outline"])
        value = ring.intersection(true).area / ring.union(true).area
        strip = body["kind"] == "footing" and ring.intersection(true.buffer(0.2)).area > 0.7 * ring.area
        best = max(best, (max(value, 0.5) if strip else value, k))
    return best


class _Enough(Exception):  # noqa: N818
    """Ends a mapping once its bodies are known."""


def bodies_of(folder: Path) -> list[dict]:
    """Map a drawn survey as far as its bodies; one record a body."""
    caught: dict = {}

    def catch(g, spacing_m):
        found = find_bodies(g.volume, g.lines, g.interval_ns, g.velocity, g.frequency_mhz, spacing_m, g.shallow_m)
        caught["bodies"], _, caught["survey"] = found
        raise _Enough

    with patch.object(job, "find_features", catch), suppress(_Enough):
        job.map_site(load_site(folder / "site.toml"), folder / "map")
    bodies, survey = caught["bodies"], caught["survey"]
    truth = [o for o in json.loads((folder / "ground.json").read_text())["objects"] if "outline" in o]
    rows = []
    for body in bodies:
        value, k = overlap(body.shape.ring_m(), truth)
        top_m = float(survey.velocity.depth_m(echo_of(survey, body).top_ns))
        error = top_m - truth[k]["depth_top_m"] if k >= 0 else None
        rows.append({"survey": folder.name, "evidence": evidence(body, survey).tolist(), "overlap": value,
                     "kind": truth[k]["kind"] if k >= 0 else None, "depth_error_m": error})  # fmt: skip
    return rows


def logistic(x: np.ndarray, real: np.ndarray, ridge: float = 1.0) -> tuple[np.ndarray, float]:
    """Weights and offset by Newton's method, ridge on standardised columns."""
    mean, sd = x.mean(0), x.std(0) + 1e-9
    a = np.column_stack([(x - mean) / sd, np.ones(len(x))])
    penalty = ridge * np.eye(a.shape[1])
    penalty[-1, -1] = 0.0
    w = np.zeros(a.shape[1])
    for _ in range(60):
        p = 1 / (1 + np.exp(-a @ w))
        w += np.linalg.solve((a * (p * (1 - p))[:, None]).T @ a + penalty, a.T @ (real - p) - penalty @ w)
    return w[:-1] / sd, float(w[-1] - (w[:-1] / sd) @ mean)


def report(rows: list[dict]) -> None:
    """Print what the bodies of all surveys say."""
    x = np.array([r["evidence"] for r in rows])
    value = np.array([r["overlap"] for r in rows])
    real = (value >= REAL_OVERLAP).astype(float)
    names = sorted({r["survey"] for r in rows})
    fold = np.array([names.index(r["survey"]) % FOLDS for r in rows])
    print(f"{len(rows)} bodies of {len(names)} surveys, {int(real.sum())} real")
    whole = [r for r in rows if r["overlap"] >= REAL_OVERLAP and r["overlap"] != 0.5]
    print(f"overlap of the real: median {np.median([r['overlap'] for r in whole]):.2f}")
    print(f"depth error, median: {np.median([r['depth_error_m'] for r in whole]):+.3f} m")
    sure = np.zeros(len(rows))
    for k in range(FOLDS):
        if (fold == k).any() and real[fold != k].sum() > 0:
            w, b = logistic(x[fold != k], real[fold != k])
            sure[fold == k] = 1 / (1 + np.exp(-(x[fold == k] @ w + b)))
    for low in np.arange(0, 1, 0.2):
        inside = (sure >= low) & (sure < low + 0.2)
        print(f"called {low:.1f} to {low + 0.2:.1f}: {int(real[inside].sum())} of {int(inside.sum())} real")
    w, b = logistic(x, real)
    print("WEIGHTS =", tuple(round(float(v), 2) for v in w), "OFFSET =", round(b, 2))


def main() -> None:
    """Read the command line, draw, map, report."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("first", type=int)
    parser.add_argument("count", type=int)
    asked = parser.parse_args()
    for seed in range(asked.first, asked.first + asked.count):
        folder = asked.folder / f"s{seed:03d}"
        kept = folder / "bodies.json"
        if not kept.exists():
            make(folder, seed)
            kept.write_text(json.dumps(bodies_of(folder)) + "\n")
            shutil.rmtree(folder / "lines")
            print(folder.name, flush=True)
    rows = [
        row for kept in sorted(asked.folder.glob("s*/bodies.json")) for row in json.loads(kept.read_text())
    ]
    if len(rows) > FOLDS:
        report(rows)


if __name__ == "__main__":
    main()
