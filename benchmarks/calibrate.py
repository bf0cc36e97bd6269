"""What the calibrations of lines, outlines and points share: the command, the logistic, its check and its picture.

Candidates of many simulated surveys (`benchmarks.feature_ground`) are labelled real or not. Each half of the surveys
(odd and even numbers) is judged by a logistic fitted on the other half alone: the picture in docs/ and the figures
printed are made from these. The weights printed are fitted on all. Images are kept in a cache folder; empty it after
any change to the ground, to conditioning or to imaging.
"""

from __future__ import annotations

import argparse
import itertools
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize

FIRST, SURVEYS = 100, 60
"""Surveys of the calibration; those before the first are for trying things out."""
LEAST_WEIGHT = 0.1
"""Of a measure, in its standard deviations, that physics says is evidence, however little the surveys show it."""


def run(description: str, judge: Callable[[int, Path], Any], plot: str) -> tuple[dict[int, Any], Path]:
    """Read the command line and judge every survey, on one process or more; returns results and the picture's path."""
    parser = argparse.ArgumentParser(
        description=description, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--surveys", type=int, default=SURVEYS, help=f"how many ({SURVEYS})")
    parser.add_argument("--first", type=int, default=FIRST, help=f"number of the first ({FIRST})")
    parser.add_argument(
        "--cache", type=Path, default=Path("/tmp/feature_calibration"), help="kept between runs"
    )
    parser.add_argument("--jobs", type=int, default=2, help="processes (2)")
    parser.add_argument("--plot", type=Path, default=Path("docs/pictures") / plot)
    asked = parser.parse_args()
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    seeds = range(asked.first, asked.first + asked.surveys)
    one = partial(judge, cache=asked.cache)
    if asked.jobs == 1:
        return {seed: one(seed) for seed in seeds}, asked.plot
    with ProcessPoolExecutor(asked.jobs) as pool:
        return dict(zip(seeds, pool.map(one, seeds), strict=True)), asked.plot


def fit_logistic(x: np.ndarray, real: np.ndarray, more: Sequence[bool], ridge: float = 0.5) -> np.ndarray:
    """Logistic regression with a slight pull of the (standardised) weights towards zero; constant first.

    `more` marks the columns of which more is never evidence against: their weights are at least `LEAST_WEIGHT`.
    """
    middle, scale = x.mean(axis=0), np.maximum(x.std(axis=0), 1e-9)
    z = np.column_stack([np.ones(len(x)), (x - middle) / scale])

    def loss(w: np.ndarray) -> float:
        at = z @ w
        return float((np.logaddexp(0, at) - real * at).sum() + ridge * (w[1:] ** 2).sum())

    bounds = [(None, None), *((LEAST_WEIGHT if m else None, None) for m in more)]
    w = minimize(loss, np.zeros(z.shape[1]), bounds=bounds).x
    slope = w[1:] / scale
    return np.concatenate([[w[0] - slope @ middle], slope])


def probability(w: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Probability by the logistic."""
    return 1 / (1 + np.exp(-(w[0] + x @ w[1:])))


def judge_halves(seed: np.ndarray, x: np.ndarray, real: np.ndarray, more: Sequence[bool]) -> np.ndarray:
    """Probability of each candidate by the fit on the surveys of the other half; prints the weights fitted on all."""
    odd = seed % 2 == 1
    p = np.empty(len(seed))
    for half in (odd, ~odd):
        w = fit_logistic(x[~half], real[~half], more)
        p[half] = probability(w, x[half])
        print("one half:", tuple(round(float(v), 2) for v in w))
    print("WEIGHTS =", tuple(round(float(v), 2) for v in fit_logistic(x, real, more)))
    return p


def draw(kind: str, p: np.ndarray, real: np.ndarray, surveys: int, path: Path) -> list[str]:
    """Draw the calibration plot of one kind; returns its table in words."""
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    edges = np.array([0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0])
    said, rows = [], []
    for low, high in itertools.pairwise(edges):
        inside = (p >= low) & ((p < high) | (high == 1.0))
        if inside.any():
            n, k = int(inside.sum()), int(real[inside].sum())
            rows.append((p[inside].mean(), k / n, *wilson(k, n), n))
            said.append(f"confidence {low:.1f} to {high:.1f}: {k} of {n} real")
    figure, axis = plt.subplots(figsize=(5.2, 5.0), dpi=110)
    axis.plot([0, 1], [0, 1], color="#999999", lw=1, ls="--", label="what is said")
    said_p, share, low_, high_, n_ = (np.array(c) for c in zip(*rows, strict=True))
    bars = [np.maximum(share - low_, 0), np.maximum(high_ - share, 0)]
    axis.errorbar(said_p, share, bars, fmt="o", color="#1f4e79", capsize=3, label="what was so (95 %)")
    for x, y, n in zip(said_p, share, n_, strict=True):
        axis.annotate(f"{n}", (x, y), textcoords="offset points", xytext=(8, -10), fontsize=8)
    axis.set(
        xlabel=f"confidence of {kind}", ylabel="share that is real", xlim=(-0.03, 1.03), ylim=(-0.03, 1.03)
    )
    axis.set_title(
        f"{len(real)} candidates of {surveys} simulated surveys,\neach judged by a fit that did not see its survey",
        fontsize=10,
    )
    axis.legend(loc="upper left", fontsize=9)
    figure.tight_layout()
    figure.savefig(path, metadata={"Software": None})
    plt.close(figure)
    return said


def wilson(k: int, n: int) -> tuple[float, float]:
    """Confidence interval of a share, 95 % (Wilson 1927)."""
    z = 1.96
    middle = (k + z * z / 2) / (n + z * z)
    half = z / (n + z * z) * np.sqrt(k * (n - k) / n + z * z / 4)
    return middle - half, middle + half
