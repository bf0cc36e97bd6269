"""How well a line is foretold by the others: `python -m benchmarks.leave_lines_out [SURVEY ...]`.

Lines are left out, every sixth at a time, and what they measured is compared with what each way to interpolate
makes of the rest: RMS of the error over RMS of the field about its mean, each window of time alike. A left-out line
leaves a gap of twice the spacing, so that the numbers are worse than those of the map. SURVEY is the name of a
shared survey, or a site file; default: all shared ones. Seconds are CPU seconds of all weights and products. With
`--libraries` SciPy and Verde (https://www.fatiando.org/verde, not a dependency: install it first) get the same
posts, on eight windows, since they have no weights and take each window by itself.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.interpolate import RBFInterpolator, griddata

from gridmap.condition.recipe import finish_lines
from gridmap.model import Window
from gridmap.pipeline.frame import map_frame
from gridmap.pipeline.read_lines import put_right, read_lines, shared_places
from gridmap.pipeline.run import Run, quiet
from gridmap.place.spacing import measure_spacing
from gridmap.site.load import load_site
from gridmap.site.records import Interpolation
from gridmap.slices.post_windows import post_windows
from gridmap.volume.interpolate import find_weights
from gridmap.volume.layout import choose_cell_m
from gridmap.volume.likeness import Likeness
from gridmap.volume.sources import Sources, survey_sources
from gridmap.volume.variogram import fit_likeness

SHARED = Path(__file__).parents[2] / "shared" / "surveys"
SITES = Path(__file__).parents[1] / "tests" / "sites"
FOLDS = 6
WINDOW_NS, FIRST_NS = 2.0, 4.0
LIBRARY_WINDOWS = 8
OURS: tuple[Interpolation, ...] = ("kriging", "linear", "inverse_distance", "nearest")


@dataclass(frozen=True, slots=True)
class Survey:
    """Posts of all lines and what they measured, (post, window)."""

    name: str
    sources: Sources
    values: np.ndarray
    lines: int


def load(name: str, shared: Path) -> Survey:
    """Read, condition and window a survey as the main job does."""
    path = SITES / f"{name}.toml"
    site = load_site(path, data=shared / name) if path.exists() else load_site(Path(name))
    run = Run(quiet, (("reading", 1.0),))
    with run.stage(0) as tick:
        survey = shared_places(site, map_frame(site, run), run)
        placed, clean, recipe = read_lines(site, survey, run, tick)
        signal = finish_lines(clean, recipe)
        lines, _, _ = put_right(site, list(signal.lines), placed, recipe.interval_ns, run)
    spacing = measure_spacing([line.xy_m for line in lines])
    cell_m = choose_cell_m(spacing.line_m, spacing.trace_m, 100 / site.antenna.frequency_mhz)
    end_ns = recipe.interval_ns * (lines[0].traces.shape[1] - 1) - WINDOW_NS
    windows = [
        Window("time", 0.0, 0.0, t, t + WINDOW_NS) for t in np.arange(FIRST_NS, end_ns, 0.5 * WINDOW_NS)
    ]
    noise = {line.name: n.level for line, n in zip(signal.lines, signal.noise, strict=True)}
    sources = survey_sources(lines, cell_m, spacing.line_m, [noise[line.name] for line in lines])
    return Survey(
        name, sources, np.concatenate(post_windows(lines, recipe.interval_ns, windows, cell_m)), len(lines)
    )


def some(sources: Sources, keep: np.ndarray) -> Sources:
    """Posts where `keep`."""
    return replace(
        sources,
        xy_m=sources.xy_m[keep],
        line=sources.line[keep],
        way=sources.way[keep],
        noise=sources.noise[keep],
    )


def inner_lines(sources: Sources) -> np.ndarray:
    """Lines that have a neighbour on both sides, by direction in order across, thinned to forty or so."""
    out = []
    for way in np.unique(sources.way):
        members = np.unique(sources.line[sources.way == way])
        middle = np.array([sources.xy_m[sources.line == k].mean(axis=0) for k in members])
        first = sources.xy_m[sources.line == members[0]]
        d = first[-1] - first[0]
        across = middle @ np.array([-d[1], d[0]])
        out.append(members[np.argsort(across)][1:-1])
    every = max(1, sum(map(len, out)) // 40)
    return np.concatenate([o[::every] for o in out])


Method = Callable[[Sources, np.ndarray, np.ndarray, Likeness], np.ndarray]


def of_ours(method: Interpolation) -> Method:
    """One of gridmap's ways as points, values, places, likeness to values at the places."""
    return lambda points, values, target, likeness: find_weights(method, points, target, np.inf, likeness)[
        0
    ].apply(values)


def by_griddata(points: Sources, values: np.ndarray, target: np.ndarray, _: Likeness) -> np.ndarray:
    """Use SciPy's linear griddata, a window at a time as it is usually called."""
    return np.stack([griddata(points.xy_m, v, target, method="linear") for v in values.T], axis=1)


def by_rbf(points: Sources, values: np.ndarray, target: np.ndarray, _: Likeness) -> np.ndarray:
    """Use SciPy's thin-plate spline of the 50 nearest posts, smoothed a little: posts of two lines may coincide."""
    return RBFInterpolator(points.xy_m, values, neighbors=50, smoothing=1e-3)(target)


def by_verde(points: Sources, values: np.ndarray, target: np.ndarray, _: Likeness) -> np.ndarray:
    """Use Verde's biharmonic spline with damping on means of blocks as wide as half the line spacing."""
    import verde

    size = 0.5 * points.line_m if np.isfinite(points.line_m) else 0.25
    out = []
    for v in values.T:
        xy, mean = verde.BlockReduce(np.mean, size).filter(tuple(points.xy_m.T), v)
        out.append(verde.Spline(damping=1e-3).fit(xy, mean).predict(tuple(target.T)))
    return np.stack(out, axis=1)


def fewer_windows(survey: Survey) -> Survey:
    """Keep some eight windows, evenly."""
    return replace(survey, values=survey.values[:, :: max(1, survey.values.shape[1] // LIBRARY_WINDOWS)])


def compare(survey: Survey, methods: dict[str, Method]) -> None:
    """Print a row a method."""
    sources, inner = survey.sources, inner_lines(survey.sources)
    error = {name: [] for name in methods}
    took = dict.fromkeys(methods, 0.0)
    truth, told, fit_s = [], [], 0.0
    likeness = None
    for fold in range(FOLDS):
        left = inner[fold::FOLDS]
        if not len(left):
            continue
        out = np.isin(sources.line, left)
        points, target = some(sources, ~out), sources.xy_m[out]
        began = time.process_time()
        likeness = fit_likeness(points, survey.values[~out])
        fit_s += time.process_time() - began
        truth.append(survey.values[out])
        for name, method in methods.items():
            values = np.ascontiguousarray(survey.values[~out])
            began = time.process_time()
            got = method(points, values, target, likeness)
            took[name] += time.process_time() - began
            error[name].append(got - survey.values[out])
        _, sd = find_weights("kriging", points, target, np.inf, likeness)
        alone = likeness.line + likeness.noise + likeness.way * (1 - 1 / points.ways)
        told.append(sd**2 + alone)
    field = np.concatenate(truth)
    spread = field.std(axis=0)
    assert likeness is not None
    print(
        f"\n{survey.name}: {survey.lines} lines, {len(sources)} posts, {field.shape[1]} windows; {likeness}"
    )
    print(f"covariance fitted {FOLDS} times in {fit_s:.1f} CPU s")
    print("| method | error / field | CPU s |\n| --- | --: | --: |")
    for name in methods:
        e = np.concatenate(error[name])
        print(f"| {name} | {np.sqrt(np.nanmean((e / spread) ** 2)):.3f} | {took[name]:.2f} |")
    made = np.concatenate(error["kriging"]) / spread
    print(
        f"kriging's error over what it foretold: {np.sqrt((made**2).mean() / np.concatenate(told).mean()):.2f}"
    )


def main() -> None:
    """Compare on the surveys asked for."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("surveys", nargs="*", default=["yard", "plaza", "priory", "meadow", "lane"])
    ask.add_argument("--shared", type=Path, default=SHARED, help="folder of the shared surveys")
    ask.add_argument("--libraries", action="store_true", help="compare SciPy and Verde too (slow)")
    words = ask.parse_args()
    methods: dict[str, Method] = {name: of_ours(name) for name in OURS}
    if words.libraries:
        methods |= {"scipy griddata": by_griddata, "scipy thin plate, 50": by_rbf, "verde spline": by_verde}
    for name in words.surveys:
        survey = load(name, words.shared)
        compare(fewer_windows(survey) if words.libraries else survey, methods)


if __name__ == "__main__":
    main()
