"""A drawn survey taken as far as `gridmap map` takes it before features are looked for; kept on disk."""

from __future__ import annotations

import pickle
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.feature_ground import INTERVAL_NS, SEPARATION_M, Survey, draw_survey
from gridmap.condition.recipe import choose_recipe, finish_lines, prepare_line
from gridmap.features.ground import Ground as Looked
from gridmap.image.choose import choose_imaging
from gridmap.model import Line, PlacedLine
from gridmap.place.spacing import measure_spacing
from gridmap.site.records import Antenna, Ground
from gridmap.slices.post_windows import post_windows
from gridmap.slices.window import THINNEST_NS, time_windows
from gridmap.velocity.evidence import survey_velocity
from gridmap.volume.blank import distance_to_trace
from gridmap.volume.build import Gridding, depth_volume
from gridmap.volume.layout import choose_blank_m, choose_cell_m, choose_depths, lay_grid
from gridmap.volume.sources import survey_sources
from gridmap.volume.variogram import fit_likeness


@dataclass(frozen=True, slots=True)
class Imaged:
    """What `find_features` is given, and the truth."""

    survey: Survey
    ground: Looked
    spacing_m: float

    @property
    def stretch(self) -> float:
        """What a depth is multiplied with to take out the error of the velocity, whose size run.json states."""
        return self.survey.velocity_1m_m_per_ns / self.ground.velocity.mean_m_per_ns()


def imaged(seed: int, cache: Path) -> Imaged:
    """Draw and image one survey, or take it from the cache."""
    kept = cache / f"survey_{seed:03d}.pickle"
    if kept.exists():
        with kept.open("rb") as file:
            return pickle.load(file)  # written by ourselves, below
    made = _image(draw_survey(seed))
    cache.mkdir(parents=True, exist_ok=True)
    with kept.open("wb") as file:
        pickle.dump(made, file, protocol=5)
    return made


def _image(survey: Survey) -> Imaged:
    antenna = Antenna(survey.frequency_mhz, SEPARATION_M, 0.02)
    recipe = choose_recipe(survey.frequency_mhz, SEPARATION_M, INTERVAL_NS)
    placed = [PlacedLine(Line(d.name, d.traces, INTERVAL_NS), d.xy_m, d.along_m) for d in survey.lines]
    lines = finish_lines([prepare_line(p, recipe) for p in placed], recipe).lines
    velocity = survey_velocity(lines, recipe.interval_ns, antenna, Ground()).velocity
    wavelength = velocity.mean_m_per_ns() * 1e3 / survey.frequency_mhz
    spacing = measure_spacing([ln.xy_m for ln in lines])
    cell = choose_cell_m(spacing.line_m, spacing.trace_m, wavelength)
    blank = choose_blank_m(spacing.line_m, spacing.trace_m, cell)
    used = [ln.xy_m[ln.usable] for ln in lines]
    grid = lay_grid(used, cell, min(0.5 * blank, 0.5))
    depth = choose_depths(
        float(velocity.depth_m(recipe.interval_ns * (lines[0].traces.shape[1] - 1))), wavelength
    )
    mode, _ = choose_imaging("auto", spacing.line_m, wavelength, len(lines))
    windows = time_windows(float(velocity.two_way_ns(depth[-1])), THINNEST_NS, 0.5, velocity)
    per_post = post_windows(lines, recipe.interval_ns, windows, cell)
    sources = survey_sources(lines, cell, spacing.line_m)
    gridding = Gridding.over(sources, grid, fit_likeness(sources, np.concatenate(per_post)[:, 4:]), blank)
    distance = distance_to_trace(np.concatenate(used), grid)
    volume = depth_volume(mode, lines, recipe.interval_ns, SEPARATION_M, velocity, depth, distance, gridding)
    looked = Looked(
        volume, tuple(lines), recipe.interval_ns, velocity, survey.frequency_mhz, max(0.25, 0.5 * wavelength),
        0.0, SEPARATION_M,
    )  # fmt: skip
    return Imaged(survey, looked, spacing.line_m)
