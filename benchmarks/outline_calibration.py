"""Calibrate the confidence of outlines on simulated ground: `python -m benchmarks.outline_calibration`.

How it is done: `benchmarks.calibrate`. A body is real where its overlap (intersection over union) with a true one is at
least 0.4, or, for a footing, where 70 % of it lies within 0.2 m of the strip.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from benchmarks.calibrate import draw, judge_halves, run
from benchmarks.feature_imaging import imaged
from gridmap.features.find import OUTLINES_FROM
from gridmap.features.outline import find_bodies, outline_feature
from gridmap.features.outline_judge import NAMES, evidence

REAL_OVERLAP = 0.4


@dataclass(frozen=True, slots=True)
class Judged:
    """One body: evidence, overlap with the best true one, which that is (-1: none), its kind, depth error, polarity."""

    seed: int
    evidence: np.ndarray
    overlap: float
    true: int
    kind: str
    depth_off_m: float
    polarity: str


def judge_survey(seed: int, cache: Path) -> tuple[list[Judged], list[str], float]:
    """Label the bodies of one survey; also the kinds of its true ones, and its area."""
    m = imaged(seed, cache)
    bodies, _, survey = find_bodies(m.ground, m.spacing_m)
    judged = []
    for body in bodies:
        ring = shapely.Polygon(body.shape.ring_m()).buffer(0)
        best = (0.0, -1)
        for k, area in enumerate(m.survey.areas):
            true = shapely.Polygon(area.ring_m)
            value = ring.intersection(true).area / ring.union(true).area
            if area.kind == "footing" and ring.intersection(true.buffer(0.2)).area > 0.7 * ring.area:
                value = max(value, 0.5)
            best = max(best, (value, k))
        feature = outline_feature(body, survey, m.ground)
        true = m.survey.areas[best[1]] if best[1] >= 0 else None
        off = feature.depth_top_m * m.stretch - true.depth_m if true else np.nan
        judged.append(
            Judged(
                seed,
                evidence(body, survey),
                best[0],
                best[1],
                true.kind if true else "",
                off,
                feature.polarity,
            )
        )
    return judged, [a.kind for a in m.survey.areas], m.survey.size_m[0] * m.survey.size_m[1]


def main() -> None:
    """Draw, find, fit, print and plot."""
    results, plot = run(__doc__ or "", judge_survey, "outline_confidence.png")
    judged = [j for r in results.values() for j in r[0]]
    seed = np.array([j.seed for j in judged])
    real = np.array([j.overlap >= REAL_OVERLAP for j in judged])
    print("for: constant,", ", ".join(NAMES))
    more = [name not in ("misfit", "depth") for name in NAMES]
    p = judge_halves(seed, np.array([j.evidence for j in judged]), real, more)
    area = sum(r[2] for r in results.values())
    print(f"{len(results)} surveys of {area:.0f} square metres, {len(judged)} bodies, {real.sum()} real")
    for at in (OUTLINES_FROM, 0.5):
        listed = [j for j, sure in zip(judged, p, strict=True) if sure >= at]
        good = [j for j in listed if j.overlap >= REAL_OVERLAP]
        true = [(k, i, kind) for k, r in results.items() for i, kind in enumerate(r[1])]
        found = {(j.seed, j.true) for j in good}
        kinds = {kind: [sum((k, i) in found for k, i, x in true if x == kind),
                        sum(x == kind for _, _, x in true)] for kind in sorted({x for _, _, x in true})}  # fmt: skip
        bare = sum(j.overlap < REAL_OVERLAP and not results[j.seed][1] for j in listed)
        off = np.array([j.depth_off_m for j in good])
        false = len(listed) - len(good)
        print(
            f"listed from {at:.2f}: {len(listed)}, {len(good)} of them real, {100 * false / area:.2f} false a hundred "
            f"square metres ({bare} where nothing has an area); overlap, median "
            f"{np.median([j.overlap for j in good]):.2f}; tops {np.median(off):+.3f} m, 90 % within "
            f"{np.percentile(np.abs(off), 90):.3f} m"
        )
        print("found:", ", ".join(f"{kind} {a} of {b}" for kind, (a, b) in kinds.items()))
    for kind in sorted({j.kind for j in judged if j.overlap >= REAL_OVERLAP}):
        said = [j.polarity for j in judged if j.kind == kind and j.overlap >= REAL_OVERLAP]
        print(f"{kind}: " + ", ".join(f"{k} {said.count(k)}" for k in ("same", "reversed", "unclear")))
    print("\n".join(draw("an outline", p, real, len(results), plot)))


if __name__ == "__main__":
    main()
