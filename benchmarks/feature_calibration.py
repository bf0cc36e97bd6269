"""Calibrate the confidence of linear features on simulated ground: `python -m benchmarks.feature_calibration`.

How it is done: `benchmarks.calibrate`. Beside the weights it prints recall, places, depths and false features a hundred
square metres.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from benchmarks.calibrate import draw, judge_halves, run
from benchmarks.feature_ground import TrueLine
from benchmarks.feature_imaging import Imaged, imaged
from gridmap.features.confidence import NAMES, terms
from gridmap.features.linear import Candidate, linear_feature, sort_out, trace_candidates
from gridmap.features.stack import stack_pieces
from gridmap.features.trace import directions

NEAR_M, NEAR_DEPTH_M = 0.25, 0.3
REAL_SHARE = 0.6
"""A candidate is real where this share of it runs within `NEAR_M` of one true line, at its depth (median)."""
CLEAR = 3.0
"""A pipe's echo is clear where the sum along its true place stands so many times above the usual one."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One candidate: terms of the logistic, whether it is real, depth of its top less the truth, metres; polarity."""

    seed: int
    terms: np.ndarray
    real: bool
    length_m: float
    depth_off_m: float
    lateral_m: float
    path_m: np.ndarray
    polarity: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Wanted:
    """One true pipe within the survey: length, its points every 5 cm, and how well its echo shows at its true place.

    `echo` is the median quality of the sum in phase along it over the usual one; below about 2.5 there is hardly any.
    """

    seed: int
    what: str
    length_m: float
    points: np.ndarray
    echo: float


def judge_survey(seed: int, cache: Path) -> tuple[list[Judged], list[Wanted], float]:
    """Trace and label the candidates of one survey; also its true pipes and its area."""
    m = imaged(seed, cache)
    chosen, _ = sort_out(trace_candidates(m.ground, m.spacing_m), m.ground.velocity, m.ground.wavelength_m)
    return [_label(c, m) for c in chosen], _wanted(m), m.survey.size_m[0] * m.survey.size_m[1]


def _label(c: Candidate, m: Imaged) -> Judged:
    feature = linear_feature(c, m.ground)
    xyz = feature.xyz_m * [1.0, 1.0, m.stretch]
    places = shapely.points(xyz[:, :2])
    best, off, aside, true_echo = 0.0, np.nan, np.nan, 0.0
    for line in m.survey.pipes:
        shape = shapely.LineString(line.top_m[:, :2])
        distance = shapely.distance(shape, places)
        near = distance <= NEAR_M
        if near.mean() > best:
            true = _depth_at(line, shapely.line_locate_point(shape, places[near]))
            best, off = float(near.mean()), float(np.median(xyz[near, 2] - true))
            aside, true_echo = float(np.median(distance[near])), line.reflection
    # A footing is found as a line or as an outline; either is right.
    strip = any(
        a.kind == "footing"
        and shapely.distance(shapely.Polygon(a.ring_m), places).mean() < 0.1
        and abs(float(np.median(xyz[:, 2])) - a.depth_m) <= NEAR_DEPTH_M
        for a in m.survey.areas
    )
    real = (best >= REAL_SHARE and abs(off) <= NEAR_DEPTH_M) or strip
    said = (
        feature.polarity,
        "" if strip else "metal" if true_echo == -1 else "void" if true_echo > 0 else "water",
    )
    return Judged(m.survey.seed, terms(c.measures), real, c.path.length_m, off, aside, xyz, said)


def _depth_at(line: TrueLine, along: np.ndarray) -> np.ndarray:
    run = np.concatenate([[0.0], np.hypot(*np.diff(line.top_m[:, :2], axis=0).T).cumsum()])
    return np.interp(along, run, line.top_m[:, 2])


def _wanted(m: Imaged) -> list[Wanted]:
    width, height = m.survey.size_m
    area = shapely.box(0.1, 0.1, width - 0.1, height - 0.1)
    out = []
    for line in m.survey.pipes:
        part = shapely.LineString(line.top_m[:, :2]).intersection(area)
        crossed = sum(_crosses(part, ln.xy_m) for ln in m.ground.lines)
        if part.length >= 1.0 and crossed >= 3:
            points = shapely.get_coordinates(
                shapely.line_interpolate_point(part, np.arange(0, part.length, 0.05))
            )
            echo = _echo(line, points[::4], m)
            out.append(Wanted(m.survey.seed, line.what, float(part.length), points, echo))
    return out


def _echo(line: TrueLine, xy: np.ndarray, m: Imaged) -> float:
    """Quality of the sum along the true path, at the best of depths within a third of a wavelength of the truth."""
    g, whole = m.ground, shapely.LineString(line.top_m[:, :2])
    depth = _depth_at(line, shapely.line_locate_point(whole, shapely.points(xy))) / m.stretch
    best = 0.0
    for off in np.linspace(-0.33, 0.33, 15) * g.wavelength_m:
        path = np.column_stack([xy, np.maximum(depth + off, 0.05)])
        sums = stack_pieces(g.gather, g.velocity, path, directions(path), others=False)
        best = max(best, float(np.median(sums.quality)) / g.usual)
    return best


def _crosses(part: shapely.LineString, xy_m: np.ndarray) -> bool:
    """Say whether a line crosses a pipe at 25 degrees or more: what runs along is not crossed."""
    walk = xy_m[-1] - xy_m[0]
    run = np.diff(shapely.get_coordinates(part), axis=0)
    sine = np.abs(run @ [-walk[1], walk[0]]) / (np.hypot(*run.T) * np.hypot(*walk))
    steep = bool((sine >= np.sin(np.radians(25.0))).any())
    return steep and bool(part.intersects(shapely.LineString(xy_m[:: max(1, len(xy_m) // 20)])))


def report(judged: list[Judged], wanted: list[Wanted], area_m2: float, p: np.ndarray, from_: float) -> str:
    """Figures at a threshold: recall, places, depths, false features a hundred square metres."""
    listed = [j for j, at in zip(judged, p, strict=True) if at >= from_]
    found = []
    for t in wanted:
        lines = [shapely.LineString(j.path_m[:, :2]) for j in listed if j.seed == t.seed]
        near = [shapely.distance(line, shapely.points(t.points)) for line in lines]
        found.append(float((np.min(near, axis=0) <= 0.15).mean()) if near else 0.0)
    clear = np.array([t.echo >= CLEAR for t in wanted])
    real = [j for j in listed if j.real]
    false = [j for j in listed if not j.real]
    off = np.array([j.depth_off_m for j in real])
    weight = np.array([t.length_m for t in wanted])
    return (
        f"threshold {from_:.2f}: of {len(wanted)} pipes across three or more lines "
        f"{np.mean(np.array(found) >= 0.9):.0%} are found over 90 % of their length, "
        f"{np.average(found, weights=weight):.0%} of all length; of the {clear.sum()} whose echo is clear "
        f"{np.mean(np.array(found)[clear] >= 0.9):.0%}; "
        f"{np.median([j.lateral_m for j in real]):.3f} m aside (median); depth {np.median(off):+.3f} m, "
        f"median of its size {np.median(np.abs(off)):.3f} m; {len(false)} false in {area_m2:.0f} square metres, "
        f"{100 * len(false) / area_m2:.2f} a hundred ({sum(j.length_m for j in false):.1f} m)"
    )


def main() -> None:
    """Draw, trace, fit, print and plot."""
    results, plot = run(__doc__ or "", judge_survey, "linear_confidence.png")
    judged = [j for r in results.values() for j in r[0]]
    wanted = [t for r in results.values() for t in r[1]]
    x, real = np.array([j.terms for j in judged]), np.array([j.real for j in judged])
    print("for: constant,", ", ".join(NAMES))
    more = [name not in ("bends", "none crossed") for name in NAMES]
    p = judge_halves(np.array([j.seed for j in judged]), x, real, more)
    print(f"{len(results)} surveys, {len(judged)} candidates, {real.sum()} real")
    area = sum(r[2] for r in results.values())
    for at in (0.3, 0.5, 0.7):
        print(report(judged, wanted, area, p, at))
    bare = [k for k, r in results.items() if not r[1]]
    false = sum(j.seed in bare and at >= 0.5 and not j.real for j, at in zip(judged, p, strict=True))
    print(f"{len(bare)} surveys without a pipe to find: {false} false features at 0.5")
    listed = [j for j, at in zip(judged, p, strict=True) if at >= 0.5 and j.real and j.polarity[1]]
    for what in ("metal", "void", "water"):
        said = [j.polarity[0] for j in listed if j.polarity[1] == what]
        print(f"{what}: " + ", ".join(f"{k} {said.count(k)}" for k in ("same", "reversed", "unclear")))
    print("\n".join(draw("a linear feature", p, real, len(results), plot)))


if __name__ == "__main__":
    main()
