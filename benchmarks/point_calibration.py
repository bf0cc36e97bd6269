"""Calibrate the confidence of points on simulated ground: `python -m benchmarks.point_calibration`.

How it is done: `benchmarks.calibrate`. What is part of a listed line or outline is no candidate. Real is what lies
within `NEAR_M` of a boulder or small flat thing that was laid, or of a stone of at least `STONE_M`, as strong as a
metal ball of 4 cm or a boulder of 13 cm radius.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.calibrate import draw, judge_halves, run
from benchmarks.feature_imaging import imaged
from gridmap.features.find import LISTED_FROM, find_areas_and_lines
from gridmap.features.point_confidence import NAMES, terms, worth_looking
from gridmap.features.point_settle import part_of
from gridmap.features.points import place_feature, point_candidates

NEAR_M = 0.2
STONE_M = 0.02


@dataclass(frozen=True, slots=True)
class Judged:
    """One candidate: whether it is real, which laid target it is (-1: none), how far aside and too deep, metres."""

    seed: int
    terms: np.ndarray
    real: bool
    target: int
    aside_m: float
    depth_off_m: float


def judge_survey(seed: int, cache: Path) -> tuple[list[Judged], int, float, int]:
    """Label the candidates of one survey; also how many targets lie in it, its area, and its stones of `STONE_M`."""
    m = imaged(seed, cache)
    width, height = m.survey.size_m
    linear, outlines, _ = find_areas_and_lines(m.ground, m.spacing_m)
    found = point_candidates(m.ground)
    laid = np.array([p.xyz_m for p in m.survey.points]).reshape(-1, 3)
    big = m.survey.stones.xyz_m[np.abs(m.survey.stones.strength) >= STONE_M]
    true = np.concatenate([laid, big])
    judged: list[Judged] = []
    if found is not None:
        score, looked = terms(found.measures), worth_looking(found.measures)
        taken = np.zeros(len(true), bool)
        for k in np.argsort(-found.measures.quality):
            if not looked[k] or part_of(found.xyz_m[k], linear, outlines, ()) is not None:
                continue
            place = place_feature(m.ground, found, int(k), 0.0).xyz_m * [1.0, 1.0, m.stretch]
            aside = np.hypot(*(true[:, :2] - place[:2]).T) if len(true) else np.zeros(0)
            near = (aside <= NEAR_M) & (np.abs(true[:, 2] - place[2]) <= NEAR_M)
            if taken[near].any():
                continue  # told already
            best = int(np.where(near, aside, np.inf).argmin()) if near.any() else -1
            taken[near] = True
            off = (float(aside[best]), float(place[2] - true[best, 2])) if best >= 0 else (np.nan, np.nan)
            judged.append(Judged(seed, score[k], best >= 0, best if best < len(laid) else -1, *off))
    inside = ((big[:, :2] >= 0) & (big[:, :2] <= m.survey.size_m)).all(axis=1)
    return judged, len(laid), width * height, int(inside.sum())


def main() -> None:
    """Draw, find, fit, print and plot."""
    results, plot = run(__doc__ or "", judge_survey, "point_confidence.png")
    judged = [j for r in results.values() for j in r[0]]
    seed, real = np.array([j.seed for j in judged]), np.array([j.real for j in judged])
    print("for: constant,", ", ".join(NAMES))
    p = judge_halves(seed, np.array([j.terms for j in judged]), real, [True] * len(NAMES))
    listed = [j for j, at in zip(judged, p, strict=True) if at >= LISTED_FROM]
    area = sum(r[2] for r in results.values())
    most = max(sum(j.seed == k for j in listed) for k in results)
    print(
        f"{len(results)} surveys of {area:.0f} square metres, {len(judged)} candidates, {real.sum()} real; listed "
        f"{len(listed)}, of which {sum(j.real for j in listed)} real and {sum(j.target >= 0 for j in listed)} of "
        f"{sum(r[1] for r in results.values())} laid targets; at most {most} in one survey; "
        f"{sum(r[3] for r in results.values())} stones are as strong as a target"
    )
    good = [j for j in listed if j.real]
    print(
        f"aside {np.median([j.aside_m for j in good]):.3f} m, depth {np.median([j.depth_off_m for j in good]):+.3f} m, "
        f"90 % within {np.percentile(np.abs([j.depth_off_m for j in good]), 90):.3f} m"
    )
    bare = [k for k in results if k % 5 == 4]
    false = sum(j.seed in bare and not j.real for j in listed)
    print(f"{len(bare)} surveys with nothing laid in them: {false} false points")
    print("\n".join(draw("a point", p, real, len(results), plot)))


if __name__ == "__main__":
    main()
