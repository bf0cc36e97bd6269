"""Calibrate the confidence of linear features on simulated ground: `python -m benchmarks.feature_calibration`.

Draws surveys (`benchmarks.feature_ground`), images them (kept in a cache folder), traces candidates, and says of
each whether it is real. Each half of the surveys is judged by a logistic fitted on the other half alone: the plot in
docs/ and the figures printed are made from these. The weights printed are fitted on all. Run again, with an empty
cache, after any change to how candidates are traced.
"""

from __future__ import annotations

import argparse
import itertools
import os
import pickle
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import shapely
from scipy.optimize import minimize

from benchmarks.feature_ground import SEPARATION_M, TrueLine
from benchmarks.feature_imaging import Imaged, imaged
from gridmap.features.confidence import NAMES, terms
from gridmap.features.linear import Candidate, sort_out, trace_candidates
from gridmap.features.linear_depth import polarity_of, with_top

NEAR_M, NEAR_DEPTH_M = 0.25, 0.3
REAL_SHARE = 0.6
"""A candidate is real where this share of it runs within `NEAR_M` of one true line, at its depth (median)."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One candidate: terms of the logistic, whether it is real, depth of its top less the truth, metres."""

    seed: int
    terms: np.ndarray
    real: bool
    length_m: float
    depth_off_m: float
    lateral_m: float
    path_m: np.ndarray


@dataclass(frozen=True, slots=True)
class Wanted:
    """One true pipe within the survey: length, lines it crosses, its points every 5 cm."""

    seed: int
    what: str
    length_m: float
    points: np.ndarray


def judge_survey(seed: int, cache: Path) -> tuple[list[Judged], list[Wanted], float]:
    """Trace and label the candidates of one survey; also its true pipes and its area."""
    kept = cache / f"judged_{seed:03d}.pickle"
    if kept.exists():
        with kept.open("rb") as file:
            return pickle.load(file)  # written by ourselves, below
    m = imaged(seed, cache)
    wavelength = m.velocity.mean_m_per_ns() * 1e3 / m.survey.frequency_mhz
    candidates = trace_candidates(
        m.volume, m.lines, m.interval_ns, m.velocity, wavelength, m.spacing_m, m.shallow_m, SEPARATION_M
    )
    chosen, _ = sort_out(candidates, m.velocity, wavelength)
    judged = [_label(c, m, wavelength) for c in chosen]
    wanted = _wanted(m)
    done = judged, wanted, m.survey.size_m[0] * m.survey.size_m[1]
    with kept.open("wb") as file:
        pickle.dump(done, file, protocol=5)
    return done


def _label(c: Candidate, m: Imaged, wavelength: float) -> Judged:
    xyz, _ = with_top(
        c.path, m.volume, m.velocity, wavelength, m.survey.frequency_mhz, 0.0, polarity_of(c.path)
    )
    # What is judged here is the pick: the error of the velocity, whose size run.json states, is taken out.
    xyz[:, 2] *= m.survey.velocity_1m_m_per_ns / m.velocity.mean_m_per_ns()
    places = shapely.points(xyz[:, :2])
    best, off, aside = 0.0, np.nan, np.nan
    for line in m.survey.pipes:
        shape = shapely.LineString(line.top_m[:, :2])
        distance = shapely.distance(shape, places)
        near = distance <= NEAR_M
        if near.mean() > best:
            true = _depth_at(line, shapely.line_locate_point(shape, places[near]))
            best, off = float(near.mean()), float(np.median(xyz[near, 2] - true))
            aside = float(np.median(distance[near]))
    real = best >= REAL_SHARE and abs(off) <= NEAR_DEPTH_M
    return Judged(m.survey.seed, terms(c.measures), real, c.path.length_m, off, aside, xyz)


def _depth_at(line: TrueLine, along: np.ndarray) -> np.ndarray:
    run = np.concatenate([[0.0], np.hypot(*np.diff(line.top_m[:, :2], axis=0).T).cumsum()])
    return np.interp(along, run, line.top_m[:, 2])


def _wanted(m: Imaged) -> list[Wanted]:
    width, height = m.survey.size_m
    area = shapely.box(0.1, 0.1, width - 0.1, height - 0.1)
    out = []
    for line in m.survey.pipes:
        part = shapely.LineString(line.top_m[:, :2]).intersection(area)
        crossed = sum(_crosses(part, ln.xy_m) for ln in m.lines)
        if line.pipe and part.length >= 1.0 and crossed >= 3:
            points = shapely.get_coordinates(
                shapely.line_interpolate_point(part, np.arange(0, part.length, 0.05))
            )
            out.append(Wanted(m.survey.seed, line.what, float(part.length), points))
    return out


def _crosses(part: shapely.LineString, xy_m: np.ndarray) -> bool:
    """Say whether a line crosses a pipe at 25 degrees or more: what runs along is not crossed."""
    walk = xy_m[-1] - xy_m[0]
    run = np.diff(shapely.get_coordinates(part), axis=0)
    sine = np.abs(run @ [-walk[1], walk[0]]) / (np.hypot(*run.T) * np.hypot(*walk))
    steep = bool((sine >= np.sin(np.radians(25.0))).any())
    return steep and bool(part.intersects(shapely.LineString(xy_m[:: max(1, len(xy_m) // 20)])))


def fit_logistic(x: np.ndarray, real: np.ndarray, ridge: float = 0.5) -> np.ndarray:
    """Logistic regression with a slight pull of the (standardised) weights towards zero; constant first."""
    middle, scale = x.mean(axis=0), np.maximum(x.std(axis=0), 1e-9)
    z = np.column_stack([np.ones(len(x)), (x - middle) / scale])

    def loss(w: np.ndarray) -> float:
        at = z @ w
        return float((np.logaddexp(0, at) - real * at).sum() + ridge * (w[1:] ** 2).sum())

    w = minimize(loss, np.zeros(z.shape[1])).x
    slope = w[1:] / scale
    return np.concatenate([[w[0] - slope @ middle], slope])


def probability(w: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Probability by the logistic."""
    return 1 / (1 + np.exp(-(w[0] + x @ w[1:])))


def report(judged: list[Judged], wanted: list[Wanted], area_m2: float, p: np.ndarray, from_: float) -> str:
    """Figures at a threshold: recall, places, depths, false features a hundred square metres."""
    listed = [j for j, at in zip(judged, p, strict=True) if at >= from_]
    found = []
    for t in wanted:
        lines = [shapely.LineString(j.path_m[:, :2]) for j in listed if j.seed == t.seed]
        near = [shapely.distance(line, shapely.points(t.points)) for line in lines]
        found.append(float((np.min(near, axis=0) <= 0.15).mean()) if near else 0.0)
    real = [j for j in listed if j.real]
    false = [j for j in listed if not j.real]
    off = np.array([j.depth_off_m for j in real])
    weight = np.array([t.length_m for t in wanted])
    return (
        f"threshold {from_:.2f}: of {len(wanted)} pipes across three or more lines "
        f"{np.mean(np.array(found) >= 0.9):.0%} are found over 90 % of their length, "
        f"{np.average(found, weights=weight):.0%} of all length; "
        f"{np.median([j.lateral_m for j in real]):.3f} m aside (median); depth {np.median(off):+.3f} m, "
        f"median of its size {np.median(np.abs(off)):.3f} m; {len(false)} false in {area_m2:.0f} square metres, "
        f"{100 * len(false) / area_m2:.2f} a hundred ({sum(j.length_m for j in false):.1f} m)"
    )


def draw(judged: list[Judged], p: np.ndarray, surveys: int, path: Path) -> list[str]:
    """Draw the calibration plot; returns its table in words."""
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    real = np.array([j.real for j in judged])
    edges = np.array([0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0])
    said, rows = [], []
    for low, high in itertools.pairwise(edges):
        inside = (p >= low) & ((p < high) | (high == 1.0))
        if inside.any():
            n, k = int(inside.sum()), int(real[inside].sum())
            rows.append((p[inside].mean(), k / n, *_wilson(k, n), n))
            said.append(f"confidence {low:.1f} to {high:.1f}: {k} of {n} real")
    figure, axis = plt.subplots(figsize=(5.2, 5.0), dpi=110)
    axis.plot([0, 1], [0, 1], color="#999999", lw=1, ls="--", label="what is said")
    said_p, share, low_, high_, n_ = (np.array(c) for c in zip(*rows, strict=True))
    axis.errorbar(
        said_p,
        share,
        [share - low_, high_ - share],
        fmt="o",
        color="#1f4e79",
        capsize=3,
        label="what was so (95 %)",
    )
    for x, y, n in zip(said_p, share, n_, strict=True):
        axis.annotate(f"{n}", (x, y), textcoords="offset points", xytext=(8, -10), fontsize=8)
    axis.set(
        xlabel="confidence of a linear feature",
        ylabel="share that is real",
        xlim=(-0.03, 1.03),
        ylim=(-0.03, 1.03),
    )
    axis.set_title(
        f"{len(judged)} candidates of {surveys} simulated surveys,\neach judged by a fit that did not see its survey",
        fontsize=10,
    )
    axis.legend(loc="upper left", fontsize=9)
    figure.tight_layout()
    figure.savefig(path, metadata={"Software": None})
    plt.close(figure)
    return said


def _wilson(k: int, n: int) -> tuple[float, float]:
    """Confidence interval of a share, 95 % (Wilson 1927)."""
    z = 1.96
    middle = (k + z * z / 2) / (n + z * z)
    half = z / (n + z * z) * np.sqrt(k * (n - k) / n + z * z / 4)
    return middle - half, middle + half


def main() -> None:
    """Draw, trace, fit, print and plot."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--surveys", type=int, default=60, help="how many (60)")
    parser.add_argument("--first", type=int, default=0, help="number of the first (0)")
    parser.add_argument(
        "--cache", type=Path, default=Path("/tmp/feature_calibration"), help="kept between runs"
    )
    parser.add_argument("--plot", type=Path, default=Path("docs/pictures/linear_confidence.png"))
    parser.add_argument("--threshold", type=float, default=0.5)
    asked = parser.parse_args()
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    seeds = range(asked.first, asked.first + asked.surveys)
    with ProcessPoolExecutor(2) as pool:
        results = dict(zip(seeds, pool.map(partial(judge_survey, cache=asked.cache), seeds), strict=True))
    conclude(results, asked.threshold, asked.plot)


def conclude(
    results: dict[int, tuple[list[Judged], list[Wanted], float]], threshold: float, plot: Path
) -> None:
    """Fit on each half and judge the other; print, and plot."""
    judged = [j for r in results.values() for j in r[0]]
    wanted = [t for r in results.values() for t in r[1]]
    x, real = np.array([j.terms for j in judged]), np.array([j.real for j in judged])
    odd = np.array([j.seed % 2 for j in judged], bool)
    p = np.empty(len(judged))
    for half in (odd, ~odd):
        p[half] = probability(fit_logistic(x[~half], real[~half]), x[half])
    print("WEIGHTS =", tuple(round(float(v), 2) for v in fit_logistic(x, real)))
    print("for: constant,", ", ".join(NAMES))
    print(f"{len(results)} surveys, {len(judged)} candidates, {real.sum()} real")
    area = sum(r[2] for r in results.values())
    for at in sorted({0.3, 0.5, 0.7, threshold}):
        print(report(judged, wanted, area, p, at))
    bare = [k for k, r in results.items() if not r[1]]
    false = sum(j.seed in bare and at >= threshold and not j.real for j, at in zip(judged, p, strict=True))
    print(f"{len(bare)} surveys without a pipe to find: {false} false features at {threshold:.2f}")
    print("\n".join(draw(judged, p, len(results), plot)))


if __name__ == "__main__":
    main()
